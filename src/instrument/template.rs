//! The instrument file that a new bench book starts with.
//!
//! Its numbers are examples, and each is marked as one; see `marks`. Must not write files.

/// The commented starting file of a plain tube called `name`, prototype P1.
///
/// Lines that begin with `#` and a letter or bracket straight after it are switched off: the
/// optional tables. Without the marks the text is a valid file, with or without those lines.
#[must_use]
pub fn plain_tube(name: &str) -> String {
    PLAIN_TUBE.replace("{name}", &within_quotes(name))
}

/// `text` as it stands between double quotes in a file of keys.
#[must_use]
pub fn within_quotes(text: &str) -> String {
    let mut written = String::new();
    for c in text.chars() {
        match c {
            '"' | '\\' => written.extend(['\\', c]),
            // No line breaks or tabs in a name.
            c if c.is_control() => written.push(' '),
            c => written.push(c),
        }
    }
    written
}

const PLAIN_TUBE: &str = r##"# The instrument on the bench. Lengths in mm, volumes in ml, temperatures in °C, decimal point.
# Numbers with EXAMPLE behind them are not yours yet: measure, write your number, delete the remark.
# Lines like "#[wall]" are switched off. To use one, delete the # in front of it.
format = 1

[instrument]
name = "{name}"
prototype = "P1"                 # the body on the bench; the next one is P2
drive = "reed"                   # reed, or air-jet for a flute
#a4_hz = 440.0                    # what A4 is tuned to, in Hz
#written_above_sounding = 0       # semitones from the sounding up to the written note

# The wall of the tube.
#[wall]
#thickness_mm = 3.0               # EXAMPLE: measure the wall at the open end with calipers
#finish = "smooth"                # inside of the bore: smooth, oiled wood or raw wood

# The air in the instrument while it is played. --room takes its place for one evening.
#[air]
#temperature_c = 24.0             # EXAMPLE: hold a thermometer into the bore after five minutes of playing
#humidity_percent = 60.0          # leave it at 60 when it is not known

[mouthpiece]
chamber_ml = 12.5                # EXAMPLE: fill the mouthpiece with water up to where the bore begins and weigh it; 1 g is 1 ml
#suits_bore_mm = [18.0, 22.0]     # EXAMPLE: write the narrowest and widest bore that it was made for
#reed_ml = 1.0                    # EXAMPLE: write the reed's give as volume if it is known; it is learnt from takes when not
# A flute's table [mouthpiece] may be left out; with drive = "air-jet" it knows one line alone, and no chamber_ml:
# embouchure_mm = 45.0             # the length of bore that the embouchure hole stands for. Guessed when not given; calibrate
#                                  # it: "try" mouthpiece.embouchure until the whole scale comes to the pitch that you measure

# The bore, from where the mouthpiece ends (0) to the open end. Add a point wherever you can measure;
# between points it runs straight. Two points at one place are a change of diameter.
[[bore]]
at_mm = 0.0
diameter_mm = 20.0               # EXAMPLE: measure the bore at the top with calipers, twice, a quarter turn apart

[[bore]]
at_mm = 1180.0                   # EXAMPLE: measure from where the mouthpiece ends to the open end
diameter_mm = 20.0               # EXAMPLE: measure the bore at the open end, twice, a quarter turn apart

# A hole. A plain tube has none, and it is the best first test: play it before you drill.
#[[hole]]
#name = "h1"
#at_mm = 610.0                    # EXAMPLE: measure from where the mouthpiece ends to the centre of the hole
#diameter_mm = 9.0                # EXAMPLE: measure the hole at its outer rim
#chimney_mm = 6.0                 # EXAMPLE: measure from the bore's surface up to the outer rim
#pad_diameter_mm = 16.0           # EXAMPLE: measure the pad, or delete both pad lines when a finger closes the hole
#pad_lift_mm = 4.0                # EXAMPLE: measure the gap between rim and pad when the key is open
# closed_by = "finger"            # instead of both pad lines where a bare fingertip closes the hole: it stands into the chimney
#rim_mm = 1.5                     # EXAMPLE: measure the width of the rim that the pad closes on
#undercut_mm = 0.0                # how much wider the hole is at the bore than at the rim
#angle_deg = 0.0                  # where it lies round the tube, from the line of the finger holes; + is clockwise seen from the mouthpiece
#vent = false                     # true for a register vent
#drilled = true                   # false while the hole is only planned

# What may leak besides closed holes: posts that go through the wall, joints.
#[[leak_site]]
#name = "post 1"
#at_mm = 505.0                    # EXAMPLE: measure from where the mouthpiece ends to the post or joint
#wall_mm = 4.0                    # EXAMPLE: measure the wall that a leak would have to pass

# A bend of a folded tube.
#[[bend]]
#at_mm = 700.0                    # EXAMPLE: measure along the middle of the tube to the middle of the bend
#radius_mm = 60.0                 # EXAMPLE: measure the radius of the tube's middle line; 0 for a mitred elbow
#angle_deg = 180.0                # EXAMPLE: write the angle that the tube turns through

# What is played. A take is called after its fingering: "C#2.wav", "C#2-2.wav".
[[fingering]]
name = "C#2"                     # EXAMPLE: write the note that the tube is to sound with every hole closed
open = []                        # names of the open holes; every other hole is closed
register = 1                     # which resonance is meant to sound; 2 is the next register
#note = "C#2"                     # EXAMPLE: write the wanted note when the name is none
#cents = 0.0                      # wanted offset from equal temperament
#weight = 1.0                     # how much this note matters among all notes: 0 to 100
#leave = false                    # true: nothing is cut for this note

# A key that you have for a body that is still planned. "place" says which hole it goes to.
#[[key]]
#name = "k1"
#pad_diameter_mm = 18.0           # EXAMPLE: measure the pad, or the cup that holds it
#from_mm = 400.0                  # EXAMPLE: measure where its reach lets the hole lie along the tube; without both lines anywhere
#to_mm = 900.0                    # EXAMPLE: measure the same from where the mouthpiece ends to the far end of its reach
#angle_deg = 40.0                 # EXAMPLE: write where its hole lies round the tube, if not on the line of the finger holes
#lift_mm = 5.0                    # EXAMPLE: measure how far it opens
#count = 1                        # how many of these there are
#vent = false                     # true for a key of a register vent

# When it is good enough.
#[goal]
#within_cents = 5.0               # a note this near its target is left as it is
#second_register_weight = 0.5     # how much a note of the second register matters beside one of the first

# What you can do at the bench. In place of drills_mm, drills = "metric-0.5", "inch-64ths" or "number".
#[workshop]
#drills_mm = [6.0, 6.5, 7.0]      # EXAMPLE: write the drills that you have
#measured_to_mm = 0.3             # EXAMPLE: write how far your measurements are off as a rule
"##;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::file::parse;
    use crate::instrument::marks::EXAMPLE;
    use crate::instrument::model::Goal;

    fn without_marks(text: &str) -> String {
        text.lines()
            .map(|line| match line.find("# EXAMPLE") {
                Some(at) if !line[..at].trim().is_empty() => &line[..at],
                _ => line,
            })
            .collect::<Vec<_>>()
            .join("\n")
    }

    fn switched_on(text: &str) -> String {
        text.lines()
            .map(|line| match line.strip_prefix('#') {
                Some(code) if code.starts_with(|c: char| c.is_ascii_lowercase() || c == '[') => code,
                _ => line,
            })
            .collect::<Vec<_>>()
            .join("\n")
    }

    #[test]
    fn the_starting_file_is_valid_once_its_marks_are_gone() {
        let instrument = parse(&without_marks(&plain_tube("Reed Bunting"))).unwrap();
        assert_eq!(instrument.name, "Reed Bunting");
        assert!(instrument.holes.is_empty());
        assert_eq!(instrument.fingerings.len(), 1);
        assert_eq!(instrument.length_mm(), 1180.0);
    }

    #[test]
    fn every_optional_line_is_valid_once_it_is_switched_on() {
        let instrument = parse(&switched_on(&without_marks(&plain_tube("x")))).unwrap();
        assert_eq!(instrument.holes.len(), 1);
        assert_eq!(instrument.leak_sites.len(), 1);
        assert_eq!(instrument.bends.len(), 1);
        assert_eq!((instrument.keys.len(), instrument.keys[0].count), (1, 1));
        assert_eq!(instrument.workshop.drills_mm, [6.0, 6.5, 7.0]);
        assert_eq!(instrument.goal, Goal::default());
        assert_eq!((instrument.fingerings[0].weight, instrument.fingerings[0].leave), (1.0, false));
    }

    #[test]
    fn the_starting_file_becomes_a_flute_as_its_remarks_say() {
        let text = without_marks(&plain_tube("x")).replace("\"reed\"", "\"air-jet\"");
        let flute = text.replace("chamber_ml = 12.5", "").replace("# embouchure_mm", "embouchure_mm");
        assert_eq!(parse(&flute).unwrap().embouchure_mm, Some(45.0));
        assert!(parse(&text).is_err());
    }

    #[test]
    fn every_example_of_the_starting_file_is_a_problem_that_says_what_to_measure() {
        let text = plain_tube("x");
        let problems = parse(&text).unwrap_err();
        let marked: Vec<usize> = text
            .lines()
            .enumerate()
            .filter(|(_, line)| !line.starts_with('#') && line.contains(EXAMPLE))
            .map(|(index, _)| index + 1)
            .collect();
        assert_eq!(problems.iter().map(|problem| problem.line).collect::<Vec<_>>(), marked);
        assert_eq!(marked.len(), 5);
        assert!(problems.iter().all(|problem| problem.is_example));
        assert_eq!(
            problems[2].to_do,
            "To do: measure from where the mouthpiece ends to the open end. Then delete the remark with EXAMPLE."
        );
    }

    #[test]
    fn any_name_is_written_so_that_it_reads_back() {
        for (name, read) in [("É \"x\" \\ 'y' # z", "É \"x\" \\ 'y' # z"), ("a\nb\tc", "a b c")] {
            assert_eq!(parse(&without_marks(&plain_tube(name))).unwrap().name, read);
        }
    }
}
