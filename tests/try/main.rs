//! The command `try`: what it tells, what it refuses, and what it saves.

mod program;
mod properties;
mod reversible;

/// A plain tube of 20 mm with two keyed holes, a third one only planned, a vent and a post, with comments
/// where makers put them.
pub const TUBE: &str = r##"# My first tube.
format = 1
[instrument]
name = "Bunting"
prototype = "P1"
drive = "reed"

[mouthpiece]
chamber_ml = 12.5   # weighed three times
suits_bore_mm = [18.0, 22.0]

# The bore, from the shoulder.
[[bore]]
at_mm = 0           # shoulder
diameter_mm = 20.0
[[bore]]
at_mm = 900.0       # cut square
diameter_mm = 20.0

[[hole]]
name = "h1"
at_mm = 600.0
diameter_mm = 10.0
chimney_mm = 5.0
[[hole]]
name = "h2"
at_mm = 700.0       # centre punch
diameter_mm = 11.0  # last drill 11
chimney_mm = 6.0
pad_diameter_mm = 17.0
pad_lift_mm = 4.0
[[hole]]
name = "Gis key"
at_mm = 800.0
diameter_mm = 12.0
chimney_mm = 6.0
drilled = false
[[hole]]
name = "v"
at_mm = 180.0
diameter_mm = 2.0
chimney_mm = 10.0
vent = true

[[leak_site]]
name = "post 4"
at_mm = 400.0
wall_mm = 4.0

[[fingering]]
name = "C2"
note = "Bb2"
open = []
[[fingering]]
name = "low key"
note = "Cb3"
open = ["Gis key"]
[[fingering]]
name = "D3"
open = ["h2"]
[[fingering]]
name = "Eb3"
open = ["h1", "h2"]
[[fingering]]
name = "A4"
open = ["v", "h2"]
register = 2

[workshop]
drills_mm = [10.0, 11.5, 12.0, 13.0]
"##;
