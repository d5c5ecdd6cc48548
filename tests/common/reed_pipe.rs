//! The instrument of most tests, as its file.

/// A tube of 20 mm with three plain holes. The targets are near what it sounds.
pub const REED_PIPE: &str = r#"format = 1

[instrument]
name = "Test Pipe"
prototype = "P1"
drive = "reed"

[mouthpiece]
chamber_ml = 12.5

[[bore]]
at_mm = 0.0
diameter_mm = 20.0
[[bore]]
at_mm = 1180.0
diameter_mm = 20.0

[[hole]]
name = "h1"
at_mm = 1050.0
diameter_mm = 12.0
chimney_mm = 3.0
[[hole]]
name = "h2"
at_mm = 925.0
diameter_mm = 12.0
chimney_mm = 3.0
[[hole]]
name = "h3"
at_mm = 815.0
diameter_mm = 12.0
chimney_mm = 3.0

[[fingering]]
name = "C#2"
open = []
[[fingering]]
name = "D#2"
open = ["h1"]
[[fingering]]
name = "F2"
open = ["h1", "h2"]
[[fingering]]
name = "G2"
open = ["h1", "h2", "h3"]
"#;
