//! Recordings that can't be used: the program says which, why and what to do, and does the rest.

use crate::bench::{Bench, RATE_HZ, reed_tone, stderr};

use serde_json::Value;

/// A take that can't be read at all: `measure` and `check` say so, list it, and end with 1.
#[track_caller]
fn assert_unreadable(bench: &Bench, word: &str) {
    let file = "takes/C#2.wav";
    for arguments in [&["measure", file, "--json"][..], &["check", ".", "takes", "--json"][..]] {
        let output = bench.run(arguments);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}: {}", stderr(&output));
        let told = stderr(&output);
        assert!(told.contains("C#2.wav") && told.contains(word), "{arguments:?}: {told}");
        let json: Value = serde_json::from_slice(&output.stdout).unwrap();
        let entry = if arguments[0] == "measure" { &json["takes"][0] } else { &json["fingerings"][0] };
        let pitch = if arguments[0] == "measure" { &entry["pitch_hz"] } else { &entry["measured_hz"] };
        assert!(pitch.is_null(), "{entry}");
        let trouble = &entry["troubles"][0];
        assert_eq!(trouble["code"], "unreadable", "{entry}");
        assert!(trouble["text"].as_str().unwrap().contains(word), "{trouble}");
    }
}

#[test]
fn a_text_file_named_as_a_recording_is_called_text() {
    let bench = Bench::new();
    std::fs::write(bench.path("takes/C#2.wav"), "Dear diary, today I drilled the third hole.\n").unwrap();
    assert_unreadable(&bench, "text");
}

#[test]
fn an_empty_file_is_called_empty() {
    let bench = Bench::new();
    std::fs::write(bench.path("takes/C#2.wav"), "").unwrap();
    assert_unreadable(&bench, "empty");
}

#[test]
fn a_header_cut_short_is_called_that() {
    let bench = Bench::new();
    let path = bench.wav("takes/C#2.wav", &reed_tone(69.0, 1.0));
    let whole = std::fs::read(&path).unwrap();
    for length in [3, 12, 30, 43] {
        std::fs::write(&path, &whole[..length]).unwrap();
        assert_unreadable(&bench, "header");
    }
}

#[test]
fn a_recording_of_zero_samples_is_called_that() {
    let bench = Bench::new();
    bench.wav("takes/C#2.wav", &[]);
    assert_unreadable(&bench, "no samples");
}

/// Found by `fuzz/`: a CAF whose packets claim 537 million bytes. The demuxer multiplies that by
/// eight, which stops a build that watches overflow; the program as it is shipped must come through.
#[cfg_attr(debug_assertions, ignore = "the demuxer's arithmetic stops builds that watch overflow")]
#[test]
fn a_damaged_header_with_absurd_sizes_stops_nothing() {
    let mut caf = b"caff\x00\x01\x00\x00desc\x00\x00\x00\x00\x00\x00\x00\x20".to_vec();
    caf.extend(8000.0_f64.to_be_bytes());
    caf.extend(b"lpcm");
    for number in [2_u32, 0x2000_0002, 1, 1, 16] {
        caf.extend(number.to_be_bytes());
    }
    caf.extend(b"data\x00\x00\x00\x00\x00\x00\x00\x68");
    caf.extend([0; 104]);
    let bench = Bench::new();
    std::fs::write(bench.path("takes/C#2.wav"), caf).unwrap();
    // Refused or read as far as it goes, but no note is invented, and nothing stops.
    let output = bench.run(&["measure", "takes/C#2.wav", "--json"]);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{}", stderr(&output));
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert!(json["takes"][0]["pitch_hz"].is_null(), "{json}");
}

#[test]
fn one_bad_file_among_good_ones_does_not_stop_the_others() {
    let bench = Bench::new();
    bench.play(&["C#2", "D#2", "F2"]);
    std::fs::write(bench.path("takes/G2.wav"), "no sound at all in here, sorry\n").unwrap();
    let output = bench.run(&["check", ".", "takes", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(stderr(&output).contains("G2.wav"), "{}", stderr(&output));
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    for index in 0..3 {
        assert!(json["fingerings"][index]["measured_hz"].is_f64(), "{}", json["fingerings"][index]);
    }
    assert!(json["fingerings"][3]["measured_hz"].is_null());
}

/// A take that can be read but holds no usable note: the work is done (exit 0), the trouble named.
#[track_caller]
fn assert_trouble(bench: &Bench, codes: &[&str]) {
    let measured = bench.json(&["measure", "takes/C#2.wav", "--json"]);
    let take = &measured["takes"][0];
    let checked = bench.json(&["check", ".", "takes", "--json"]);
    let fingering = &checked["fingerings"][0];
    for entry in [take, fingering] {
        let told: Vec<&str> =
            entry["troubles"].as_array().unwrap().iter().map(|t| t["code"].as_str().unwrap()).collect();
        assert!(codes.iter().any(|code| told.contains(code)), "{told:?} has none of {codes:?}");
    }
}

#[test]
fn silence_is_called_silent() {
    let bench = Bench::new();
    bench.wav("takes/C#2.wav", &vec![0.0; 2 * RATE_HZ as usize]);
    assert_trouble(&bench, &["silent"]);
    let measured = bench.json(&["measure", "takes/C#2.wav", "--json"]);
    assert!(measured["takes"][0]["pitch_hz"].is_null());
    assert_eq!(measured["takes"][0]["voiced"], false);
}

#[test]
fn a_take_clipped_all_through_is_called_clipped() {
    let bench = Bench::new();
    let clipped: Vec<f64> = reed_tone(69.3, 3.0).iter().map(|s| (s * 40.0).clamp(-1.0, 1.0)).collect();
    bench.wav("takes/C#2.wav", &clipped);
    assert_trouble(&bench, &["clipped"]);
}

#[test]
fn a_take_pressed_against_full_scale_has_no_note() {
    let bench = Bench::new();
    bench.wav("takes/C#2.wav", &vec![1.0; 2 * RATE_HZ as usize]);
    assert_trouble(&bench, &["silent", "clipped"]);
}

#[test]
fn one_sample_is_too_short_and_stops_nothing() {
    let bench = Bench::new();
    bench.wav("takes/C#2.wav", &[0.5]);
    assert_trouble(&bench, &["too-short", "silent"]);
}

#[test]
fn samples_that_are_no_numbers_are_told_and_stop_nothing() {
    let bench = Bench::new();
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(bench.path("takes/C#2.wav"), spec).unwrap();
    for (i, sample) in reed_tone(69.3, 3.0).iter().enumerate() {
        let odd = [f32::NAN, f32::INFINITY, f32::MAX];
        writer.write_sample(if i % 1000 < 3 { odd[i % 1000] } else { *sample as f32 }).unwrap();
    }
    writer.finalize().unwrap();
    let measured = bench.json(&["measure", "takes/C#2.wav", "--json"]);
    let text = measured["takes"][0]["troubles"].to_string();
    assert!(text.contains("no numbers"), "{text}");
}

#[test]
fn a_take_of_an_unknown_fingering_lists_the_names_and_the_way_out() {
    let bench = Bench::new();
    bench.wav("takes/H7.wav", &reed_tone(69.3, 1.0));
    let says = ["H7.wav", "C#2, D#2, F2, G2", "--as"];
    bench.refuses(&["check", ".", "takes"], 1, &says);
    bench.refuses(&["check", ".", "takes/H7.wav"], 1, &says);
}

#[test]
fn half_a_scale_is_checked_and_the_missing_half_is_named() {
    let bench = Bench::new();
    bench.play(&["C#2", "F2"]);
    let json = bench.json(&["check", ".", "takes", "--json"]);
    assert_eq!(json["fingerings"].as_array().unwrap().len(), 4);
    assert!(json["fingerings"][0]["measured_hz"].is_f64());
    assert!(json["fingerings"][1]["measured_hz"].is_null());
    let output = bench.run(&["check", ".", "takes"]);
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.contains("D#2") && text.contains("G2"), "{text}");
    assert!(text.contains("2 of 4"), "{text}");
}
