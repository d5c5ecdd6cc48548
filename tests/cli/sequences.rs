//! One long recording of all fingerings, and files whose names say nothing: what each note is taken
//! as, how the maker corrects it, and what is refused.

use serde_json::Value;

use crate::bench::{Bench, REED_PIPE, reed_tone, stderr};

/// What the bench's instrument should sound, by fingering: its own resonance and the next one.
fn predicted(bench: &Bench) -> Vec<(String, f64, f64)> {
    let json = bench.json(&["predict", ".", "--json"]);
    let fingerings = json["fingerings"].as_array().unwrap();
    fingerings
        .iter()
        .map(|f| {
            let name = f["name"].as_str().unwrap().to_string();
            let hz = |value: &Value| value.as_f64().unwrap();
            (name, hz(&f["predicted_hz"]), hz(&f["resonances"][1]["hz"]))
        })
        .collect()
}

/// Notes of the bench's instrument, one after the other: name, cents off the prediction, seconds.
fn played(bench: &Bench, notes: &[(&str, f64, f64)]) -> Vec<f64> {
    let predicted = predicted(bench);
    notes
        .iter()
        .flat_map(|(name, cents, seconds)| {
            let (_, hz, _) = predicted.iter().find(|(known, ..)| known == name).unwrap();
            reed_tone(hz * (cents / 1200.0).exp2(), *seconds)
        })
        .collect()
}

/// What each note was taken as, `-` when left out, with the words about it.
fn taken(json: &Value) -> Vec<(String, String)> {
    let notes = json["alignment"]["notes"].as_array().unwrap();
    notes
        .iter()
        .map(|note| {
            let words = note["note"].as_str().unwrap().to_string();
            (note["fingering"].as_str().unwrap_or("-").to_string(), words)
        })
        .collect()
}

fn names(json: &Value) -> Vec<String> {
    taken(json).into_iter().map(|(name, _)| name).collect()
}

fn measured(json: &Value, index: usize) -> Option<f64> {
    json["fingerings"][index]["measured_hz"].as_f64()
}

const STUMBLING: [(&str, f64, f64); 5] =
    [("C#2", 2.0, 2.0), ("D#2", -30.0, 0.3), ("D#2", -3.0, 2.0), ("D#2", 3.0, 2.0), ("G2", 0.0, 2.0)];

#[test]
fn a_false_start_a_repeat_and_a_skipped_fingering_are_told_from_each_other() {
    let bench = Bench::new();
    bench.wav("all.wav", &played(&bench, &STUMBLING));
    let json = bench.json(&["check", "instrument.toml", "--one-take", "all.wav", "--json"]);
    let want =
        [("C#2", ""), ("-", "false start, left out"), ("D#2", ""), ("D#2", "repeat"), ("G2", "skipped: F2")];
    let want = want.map(|(name, words)| (name.to_string(), words.to_string()));
    assert_eq!(taken(&json), want);
    assert_eq!(json["alignment"]["not_heard"], serde_json::json!(["F2"]));
    assert_eq!(json["alignment"]["notes_option"], "C#2, skip, D#2, D#2, G2");
    // The takes are checked as any others are: two of D#2, whose mean is the prediction.
    assert_eq!(json["fingerings"][1]["takes"].as_array().unwrap().len(), 2);
    let cents = json["fingerings"][1]["cents_from_predicted"].as_f64().unwrap();
    assert!(cents.abs() < 0.5, "{cents}");
    assert!(measured(&json, 2).is_none());
    // Where each note is, in seconds of the file.
    let third = &json["alignment"]["notes"][2];
    let from_s = third["from_s"].as_f64().unwrap();
    assert!((from_s - 3.55).abs() < 0.15, "{third}");
}

#[test]
fn the_list_is_shown_before_the_report_with_the_line_that_corrects_it() {
    let bench = Bench::new();
    bench.wav("all.wav", &played(&bench, &STUMBLING));
    let output = bench.run(&["check", ".", "--one-take", "all.wav"]);
    let text = String::from_utf8(output.stdout).unwrap();
    let list = text.find("all.wav: 5 notes heard").unwrap();
    let correction = text.find("--notes \"C#2, skip, D#2, D#2, G2\"").unwrap();
    assert!(list < correction && correction < text.find("Next:").unwrap(), "{text}");
    for words in ["false start, left out", "repeat", "skipped: F2", "Not heard: F2"] {
        assert!(text.contains(words), "{words} is not in:\n{text}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
}

#[test]
fn the_maker_corrects_what_the_notes_were_taken_as() {
    let bench = Bench::new();
    bench.wav("all.wav", &played(&bench, &STUMBLING));
    for notes in ["C#2 skip D#2 SKIP g2", "c♯2, skip, D#2, -, G2"] {
        let json = bench.json(&["check", ".", "--one-take", "all.wav", "--notes", notes, "--json"]);
        assert_eq!(names(&json), ["C#2", "-", "D#2", "-", "G2"]);
        assert_eq!(json["fingerings"][1]["takes"].as_array().unwrap().len(), 1);
        let cents = json["fingerings"][1]["cents_from_predicted"].as_f64().unwrap();
        assert!((cents + 3.0).abs() < 0.5, "{cents}");
    }
    let refuses = |notes: &str, says: &[&str]| {
        bench.refuses(&["check", ".", "--one-take", "all.wav", "--notes", notes], 2, says);
    };
    refuses("C#2 D#2", &["--notes", "2 notes", "5 are heard"]);
    refuses("", &["0 notes", "5 are heard"]);
    refuses("C#2 skip H9 D#2 G2", &["H9", "C#2, D#2, F2, G2"]);
    refuses("C#2 skip room D#2 G2", &["room"]);
}

#[test]
fn notes_played_from_the_top_down_are_taken_so() {
    let bench = Bench::new();
    let down = [("G2", 4.0, 2.0), ("F2", 1.0, 2.0), ("D#2", -2.0, 2.0), ("C#2", 0.0, 2.0)];
    bench.wav("all.wav", &played(&bench, &down));
    let json = bench.json(&["check", ".", "--one-take", "all.wav", "--json"]);
    assert_eq!(names(&json), ["G2", "F2", "D#2", "C#2"]);
    let order = json["alignment"]["order"].as_str().unwrap();
    assert!(order.contains("backward"), "{order}");
}

/// The bench's instrument with its fingerings in another order than that of pitch.
fn shuffled() -> Bench {
    let (body, fingerings) = REED_PIPE.split_at(REED_PIPE.find("[[fingering]]").unwrap());
    let mut parts: Vec<&str> = fingerings.split("[[fingering]]").skip(1).collect();
    parts.swap(0, 2);
    parts.swap(1, 3);
    Bench::with(&parts.iter().fold(body.to_string(), |text, part| text + "[[fingering]]" + part))
}

#[test]
fn a_file_in_any_order_may_be_played_from_the_lowest_up() {
    let bench = shuffled();
    let up = [("C#2", 0.0, 2.0), ("D#2", 0.0, 2.0), ("F2", 0.0, 2.0), ("G2", 0.0, 2.0)];
    bench.wav("all.wav", &played(&bench, &up));
    let json = bench.json(&["check", ".", "--one-take", "all.wav", "--json"]);
    assert_eq!(names(&json), ["C#2", "D#2", "F2", "G2"]);
    assert_eq!(json["alignment"]["order"], "from the lowest up");
    assert!(taken(&json).iter().all(|(_, words)| words.is_empty()), "{}", json["alignment"]);
    let as_in_the_file = [("F2", 0.0, 2.0), ("G2", 0.0, 2.0), ("C#2", 0.0, 2.0), ("D#2", 0.0, 2.0)];
    bench.wav("all.wav", &played(&bench, &as_in_the_file));
    let json = bench.json(&["check", ".", "--one-take", "all.wav", "--json"]);
    assert_eq!(names(&json), ["F2", "G2", "C#2", "D#2"]);
    assert_eq!(json["alignment"]["order"], "in the order of the instrument file");
}

#[test]
fn up_and_down_again_is_followed() {
    let bench = Bench::new();
    let order = ["C#2", "D#2", "F2", "G2", "F2", "D#2", "C#2"];
    bench.wav("all.wav", &played(&bench, &order.map(|name| (name, 1.0, 1.5))));
    let json = bench.json(&["check", ".", "--one-take", "all.wav", "--json"]);
    assert_eq!(names(&json), order);
}

/// A cold room, a warm one, a reed that isn't as written: all notes off alike, by less than half the
/// step to the next note.
#[test]
fn notes_that_are_all_off_alike_are_still_known() {
    let bench = Bench::new();
    for cents in [-60.0, 60.0] {
        let all = ["C#2", "D#2", "F2", "G2"].map(|name| (name, cents, 1.5));
        bench.wav("all.wav", &played(&bench, &all));
        let json = bench.json(&["check", ".", "--one-take", "all.wav", "--json"]);
        assert_eq!(names(&json), ["C#2", "D#2", "F2", "G2"]);
        let common = json["alignment"]["common_cents"].as_f64().unwrap();
        assert!((common - cents).abs() < 1.0, "{common}");
    }
}

#[test]
fn a_note_that_jumps_to_the_next_register_stays_with_its_fingering() {
    let bench = Bench::new();
    let mut samples = played(&bench, &[("C#2", 0.0, 1.5)]);
    samples.extend(reed_tone(predicted(&bench)[1].2, 1.5));
    samples.extend(played(&bench, &[("F2", 0.0, 1.5), ("G2", 0.0, 1.5)]));
    bench.wav("all.wav", &samples);
    let json = bench.json(&["check", ".", "--one-take", "all.wav", "--json"]);
    assert_eq!(names(&json), ["C#2", "D#2", "F2", "G2"]);
    let jumped = &json["alignment"]["notes"][1];
    assert_eq!(jumped["sounded_register"], 2, "{jumped}");
    assert_eq!(jumped["note"], "resonance 2 sounded");
    assert_eq!(json["fingerings"][1]["sounded_register"], 2);
}

#[test]
fn notes_without_a_pause_between_them_are_parted_by_pitch() {
    let bench = Bench::new();
    let silence = 4_000; // as `reed_tone` puts around its note
    let mut joined: Vec<f64> = Vec::new();
    for (i, (_, hz, _)) in predicted(&bench).iter().enumerate() {
        let tone = reed_tone(*hz, 2.0);
        let from = if i == 0 { 0 } else { silence };
        // The swells at either end last 50 ms: cut away, so that the level never falls.
        joined.extend(&tone[from + if i == 0 { 0 } else { 800 }..tone.len() - silence - 800]);
    }
    joined.extend(vec![0.0; silence]);
    bench.wav("all.wav", &joined);
    let json = bench.json(&["check", ".", "--one-take", "all.wav", "--json"]);
    assert_eq!(names(&json), ["C#2", "D#2", "F2", "G2"]);
    for index in 0..4 {
        let cents = json["fingerings"][index]["cents_from_predicted"].as_f64().unwrap();
        assert!(cents.abs() < 1.0, "{index}: {cents}");
    }
}

#[test]
fn a_long_recording_without_a_note_says_so() {
    let bench = Bench::new();
    bench.wav("silent.wav", &vec![0.0; 160_000]);
    let hiss: Vec<f64> = reed_tone(1.0e6, 10.0); // above all that is sampled: hiss alone
    bench.wav("hiss.wav", &hiss);
    bench.wav("empty.wav", &[]);
    std::fs::write(bench.path("text.wav"), "no sound at all in here, sorry\n").unwrap();
    let refuses = |file: &str, says: &[&str]| {
        bench.refuses(&["check", ".", "--one-take", file], 1, says);
        bench.refuses(&["check", ".", "--one-take", file, "--json"], 1, says);
    };
    refuses("silent.wav", &["silent.wav", "no note is heard in 10 s"]);
    refuses("hiss.wav", &["hiss.wav", "no note is heard"]);
    refuses("empty.wav", &["empty.wav", "no samples"]);
    refuses("text.wav", &["text.wav", "text"]);
    refuses("lost.wav", &["lost.wav"]);
}

/// Files as a phone calls them.
fn phone_files(bench: &Bench, notes: &[(&str, f64)]) -> Vec<String> {
    notes
        .iter()
        .enumerate()
        .map(|(i, (name, cents))| {
            let file = format!("phone/Recording {}.wav", i + 8);
            bench.wav(&file, &played(bench, &[(*name, *cents, 1.5)]));
            file
        })
        .collect()
}

#[test]
fn files_with_a_phones_names_are_taken_in_order_and_more_than_fingerings_are_repeats() {
    let bench = Bench::new();
    let notes = [("C#2", 2.0), ("D#2", 0.0), ("D#2", 5.0), ("F2", 0.0), ("G2", -4.0)];
    let files = phone_files(&bench, &notes);
    // Recording 8 to Recording 12, as the folder, by number, and as a shell sorts them.
    let mut sorted = files.clone();
    sorted.sort();
    assert_ne!(sorted, files);
    for given in [vec!["phone".to_string()], files.clone(), sorted] {
        let mut arguments = vec!["check", ".", "--json", "--in-order"];
        arguments.extend(given.iter().map(String::as_str));
        let json = bench.json(&arguments);
        assert_eq!(names(&json), ["C#2", "D#2", "D#2", "F2", "G2"]);
        assert_eq!(taken(&json)[2].1, "repeat");
        assert_eq!(json["alignment"]["notes"][0]["file"], "Recording 8.wav");
        assert_eq!(json["fingerings"][3]["takes"][0]["file"], "Recording 12.wav");
    }
    let text = String::from_utf8(bench.run(&["check", ".", "--in-order", "phone"]).stdout).unwrap();
    assert!(text.contains("5 files") && text.contains("Recording 10.wav"), "{text}");
    assert!(text.contains("--notes \"C#2, D#2, D#2, F2, G2\""), "{text}");
}

/// In which order the files of a folder are taken, and what is said of that.
fn order(bench: &Bench, folder: &str) -> (Vec<String>, String) {
    let output = bench.run(&["check", ".", "--json", "--in-order", folder]);
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    let notes = json["alignment"]["notes"].as_array().unwrap();
    (notes.iter().map(|note| note["file"].as_str().unwrap().to_string()).collect(), stderr(&output))
}

#[test]
fn a_phones_first_recording_without_a_number_comes_first() {
    let bench = Bench::new();
    let right = ["New Recording.wav", "New Recording 2.wav", "New Recording 12.wav"];
    for (file, name) in right.iter().zip(["C#2", "D#2", "F2"]) {
        bench.wav(&format!("phone/{file}"), &played(&bench, &[(name, 0.0, 1.5)]));
    }
    let (files, told) = order(&bench, "phone");
    assert_eq!(files, right);
    assert!(told.contains("by the numbers in their names"), "{told}");
}

/// The date and time of a broadcast WAV, in a chunk behind the form.
fn with_time(wav: &[u8], time: &str) -> Vec<u8> {
    let mut origin = vec![0; 602];
    origin[320..338].copy_from_slice(time.as_bytes());
    let mut bytes = [&wav[..12], b"bext", &602_u32.to_le_bytes()[..], &origin, &wav[12..]].concat();
    let size = bytes.len() as u32 - 8;
    bytes[4..8].copy_from_slice(&size.to_le_bytes());
    bytes
}

#[test]
fn files_that_all_tell_when_they_were_recorded_are_taken_in_that_order_and_that_is_said() {
    let bench = Bench::new();
    let times = [("c", "2026-11-0514:03:22"), ("a", "2026-11-0514:05:00"), ("b", "2026-11-0609:00:00")];
    for ((file, time), name) in times.iter().zip(["C#2", "D#2", "F2"]) {
        let path = bench.wav(&format!("phone/{file}.wav"), &played(&bench, &[(name, 0.0, 1.5)]));
        let wav = std::fs::read(&path).unwrap();
        std::fs::write(path, with_time(&wav, time)).unwrap();
    }
    // The silent room stands beside them.
    bench.wav("phone/room.wav", &vec![0.0; 16_000]);
    let (files, told) = order(&bench, "phone");
    assert_eq!(files, ["c.wav", "a.wav", "b.wav"]);
    assert!(told.contains("in the order of the times of recording"), "{told}");
    // A list in an order of the maker's own stays.
    let given = ["check", ".", "--json", "--in-order", "phone/b.wav", "phone/c.wav", "phone/a.wav"];
    assert_eq!(bench.json(&given)["alignment"]["notes"][0]["file"], "b.wav");
    // One that tells none: the names count.
    bench.wav("phone/d.wav", &played(&bench, &[("G2", 0.0, 1.5)]));
    let (files, told) = order(&bench, "phone");
    assert_eq!(files, ["a.wav", "b.wav", "c.wav", "d.wav"]);
    assert!(!told.contains("times of recording"), "{told}");
}

#[test]
fn a_phones_m4a_tells_its_time_in_its_index() {
    let bench = Bench::new();
    let kept = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/audio/kept/faststart.m4a");
    let m4a = std::fs::read(kept).unwrap();
    let at = m4a.windows(4).position(|name| name == b"mvhd").unwrap() + 8;
    std::fs::create_dir_all(bench.path("phone")).unwrap();
    for (file, seconds) in [("a.m4a", 3_800_000_200_u32), ("b.m4a", 3_800_000_100)] {
        let mut bytes = m4a.clone();
        bytes[at..at + 4].copy_from_slice(&seconds.to_be_bytes());
        std::fs::write(bench.path(&format!("phone/{file}")), bytes).unwrap();
    }
    let (files, told) = order(&bench, "phone");
    assert_eq!(files, ["b.m4a", "a.m4a"]);
    assert!(told.contains("in the order of the times of recording"), "{told}");
}

#[test]
fn a_file_in_order_that_can_not_be_read_keeps_its_place_and_stops_no_other() {
    let bench = Bench::new();
    let files = phone_files(&bench, &[("C#2", 2.0), ("D#2", 0.0), ("F2", 0.0), ("G2", -4.0)]);
    std::fs::write(bench.path(&files[1]), "no sound at all in here, sorry\n").unwrap();
    bench.wav("phone/room.wav", &vec![0.0; 16_000]);
    let output = bench.run(&["check", ".", "--in-order", "phone", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(stderr(&output).contains("Recording 9.wav"), "{}", stderr(&output));
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(names(&json), ["C#2", "D#2", "F2", "G2"]);
    assert_eq!(json["fingerings"][1]["troubles"][0]["code"], "unreadable");
    assert!(measured(&json, 0).is_some() && measured(&json, 1).is_none() && measured(&json, 3).is_some());
}

#[test]
fn named_takes_may_come_along_with_a_long_recording() {
    let bench = Bench::new();
    bench.wav("all.wav", &played(&bench, &[("C#2", 0.0, 1.5), ("D#2", 0.0, 1.5)]));
    bench.play(&["G2"]);
    let json = bench.json(&["check", ".", "takes", "--one-take", "all.wav", "--json"]);
    let heard: Vec<bool> = (0..4).map(|index| measured(&json, index).is_some()).collect();
    assert_eq!(heard, [true, true, false, true]);
    let plain = bench.json(&["check", ".", "takes", "--json"]);
    assert!(plain["alignment"].is_null());
}

#[test]
fn options_for_sequences_that_make_no_sense_are_wrong_usage() {
    let bench = Bench::new();
    bench.play(&["C#2"]);
    let take = "takes/C#2.wav";
    bench.refuses(&["check", ".", "--one-take", take, "--in-order", take], 2, &["--in-order"]);
    bench.refuses(&["check", ".", "takes", "--notes", "C#2"], 2, &["--one-take"]);
    bench.refuses(&["check", ".", "--one-take"], 2, &["--one-take"]);
    bench.refuses(&["check", ".", "--in-order"], 2, &["--in-order"]);
    bench.refuses(&["check", ".", "--in-order", "lost.wav"], 1, &["lost.wav"]);
    std::fs::create_dir(bench.path("none")).unwrap();
    bench.refuses(&["check", ".", "--in-order", "none"], 1, &["none", "no recordings"]);
    let bare = Bench::with(&REED_PIPE[..REED_PIPE.find("[[fingering]]").unwrap()]);
    bare.wav("all.wav", &reed_tone(69.0, 1.0));
    bare.refuses(&["check", ".", "--one-take", "all.wav"], 2, &["no fingerings yet", "[[fingering]]"]);
}

#[test]
fn a_recording_named_after_no_fingering_is_refused_with_both_ways_out() {
    let bench = Bench::new();
    bench.wav("takes/Recording 17.wav", &reed_tone(69.0, 1.0));
    let says = ["Recording 17.wav", "C#2, D#2, F2, G2", "--as NAME", "--in-order FILE..."];
    bench.refuses(&["check", ".", "takes"], 1, &says);
}

#[test]
fn several_notes_in_one_take_are_told_with_the_one_that_is_used_and_how_to_part_them() {
    let bench = Bench::new();
    let mut samples = reed_tone(69.0, 3.0);
    samples.extend(reed_tone(92.0, 1.0));
    bench.wav("takes/C#2.wav", &samples);
    let json = bench.json(&["measure", "takes/C#2.wav", "--json"]);
    let troubles = json["takes"][0]["troubles"].as_array().unwrap();
    let told = troubles.iter().find(|trouble| trouble["code"] == "several-notes").unwrap();
    let text = told["text"].as_str().unwrap();
    // The second note begins after 0.25 + 3 + 0.5 s.
    for words in ["Used is 69.0 Hz", "92.0 Hz, begins at 3.7 s", "--from", "--one-take"] {
        assert!(text.contains(words), "{words} is not in: {text}");
    }
}
