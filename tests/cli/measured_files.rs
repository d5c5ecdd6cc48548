//! What `measure` writes for other programs: the table for a spreadsheet and the chart.

use crate::bench::{Bench, reed_tone, stderr};

fn stdout(bench: &Bench, arguments: &[&str]) -> String {
    let output = bench.run(arguments);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn a_table_has_a_row_a_take_and_units_in_its_columns() {
    let bench = Bench::new();
    bench.wav("a.wav", &reed_tone(110.0, 2.0));
    bench.wav("silent.wav", &vec![0.0; 16_000]);
    let csv = stdout(&bench, &["measure", "a.wav", "silent.wav", "--csv"]);
    let rows: Vec<Vec<&str>> = csv.lines().map(|line| line.split(',').collect()).collect();
    assert_eq!(rows.len(), 3, "{csv}");
    let column = |name: &str| rows[0].iter().position(|head| *head == name).unwrap();
    let (hz, steady_s) = (column("pitch_hz"), column("steady_to_s"));
    assert_eq!(rows[1][column("file")], "a.wav");
    let off = 1200.0 * (rows[1][hz].parse::<f64>().unwrap() / 110.0).log2();
    assert!(off.abs() < 0.3, "{csv}");
    assert_eq!(rows[1][column("note")], "A2");
    assert!(rows[1][steady_s].parse::<f64>().unwrap() > 1.5);
    // A take without a note has its row too, with empty fields and its trouble.
    assert_eq!(rows[2][hz], "");
    assert!(rows[2][column("troubles")].contains("silent"), "{csv}");
    for number in ["sd_cents", "wander_cents", "level_dbfs", "undertone_db"] {
        column(number);
    }
}

#[cfg(unix)]
#[test]
fn names_that_a_spreadsheet_would_run_are_written_as_text() {
    let bench = Bench::new();
    for name in ["=1+1.wav", "+a.wav", "@b.wav", "-c.wav", "d,\"e\".wav", "f\ng.wav"] {
        bench.wav(name, &reed_tone(110.0, 1.0));
        let csv = stdout(&bench, &["measure", "--csv", "--", name]);
        let row = csv.split_once('\n').unwrap().1;
        let field = row.split_once(",1").unwrap().0;
        let inert = match name {
            "d,\"e\".wav" => "\"d,\"\"e\"\".wav\"".to_string(),
            // A row is always a line.
            "f\ng.wav" => "f g.wav".to_string(),
            formula => format!("'{formula}"),
        };
        assert_eq!(field, inert, "{csv}");
    }
}

#[test]
fn a_chart_shows_spectrum_and_pitch_with_units_uncertainty_and_words_for_who_can_not_see() {
    let bench = Bench::new();
    let undertone: Vec<f64> = reed_tone(110.0, 3.0)
        .iter()
        .enumerate()
        .map(|(i, sample)| {
            let t = i as f64 / 16_000.0 - 0.25;
            let sounds = (0.05..2.95).contains(&t);
            let low = 0.03 * (std::f64::consts::TAU * 55.0 * t).sin();
            if sounds { sample + low } else { *sample }
        })
        .collect();
    bench.wav("A2.wav", &undertone);
    let card = stdout(&bench, &["measure", "A2.wav", "--plot", "A2.svg"]);
    assert!(card.contains("1/2 of the note"), "{card}");
    let svg = std::fs::read_to_string(bench.path("A2.svg")).unwrap();
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
    for words in [
        "<title id=",
        "<desc id=",
        "role=\"img\"",
        "A2.wav",
        "110.000 Hz",
        "frequency (Hz)",
        "dB from the strongest partial",
        "time in the file (s)",
        "cents from the mean",
        "sure to ±",
        "1/2",
        "prefers-color-scheme: dark",
        "viewBox",
    ] {
        assert!(svg.contains(words), "{words} is not in the chart");
    }
    assert_eq!(svg.matches("<svg").count(), 1);
    let mut names = std::fs::read_dir(bench.path("")).unwrap().map(|entry| entry.unwrap().file_name());
    assert!(!names.any(|name| name.to_string_lossy().ends_with(".part")));
}

#[cfg(unix)]
#[test]
fn a_hostile_name_can_not_break_out_of_the_chart() {
    let bench = Bench::new();
    let name = "a<script>alert(1)</script>&\"\u{1}.wav";
    // A slash can't be in a name; the tag that ends is left out.
    let name = name.replace('/', "");
    bench.wav(&name, &reed_tone(110.0, 1.0));
    stdout(&bench, &["measure", &name, "--plot", "x.svg"]);
    let svg = std::fs::read_to_string(bench.path("x.svg")).unwrap();
    assert!(!svg.contains("<script") && !svg.contains('\u{1}'));
    assert!(svg.contains("a&lt;script&gt;"), "{}", &svg[..600]);
}

#[test]
fn a_chart_never_replaces_a_recording_and_is_of_one_take() {
    let bench = Bench::new();
    bench.wav("a.wav", &reed_tone(110.0, 1.0));
    bench.wav("b.wav", &reed_tone(110.0, 1.0));
    bench.wav("silent.wav", &vec![0.0; 16_000]);
    let before = std::fs::read(bench.path("a.wav")).unwrap();
    bench.refuses(&["measure", "a.wav", "--plot", "a.wav"], 2, &["a.wav", ".svg"]);
    bench.refuses(&["measure", "a.wav", "b.wav", "--plot", "x.svg"], 2, &["one take", "2"]);
    bench.refuses(&["measure", "a.wav", "--csv", "--json"], 2, &["--csv", "--json"]);
    assert_eq!(std::fs::read(bench.path("a.wav")).unwrap(), before);
    // No note: nothing to draw, said, and no file left.
    let output = bench.run(&["measure", "silent.wav", "--plot", "x.svg"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(stderr(&output).contains("nothing to draw"), "{}", stderr(&output));
    assert!(!bench.path("x.svg").exists());
    let output = bench.run(&["measure", "a.wav", "--plot", "nowhere/x.svg"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(stderr(&output).contains("nowhere/x.svg"), "{}", stderr(&output));
}

#[test]
fn a_chart_of_what_came_through_a_pipe_is_that_of_the_file() {
    let bench = Bench::new();
    bench.wav("A2.wav", &reed_tone(110.0, 1.0));
    stdout(&bench, &["measure", "A2.wav", "--plot", "file.svg"]);
    let sound = std::fs::read(bench.path("A2.wav")).unwrap();
    let piped =
        bench.borescribe(&["measure", "-", "--plot", "pipe.svg"]).write_stdin(sound).output().unwrap();
    assert_eq!(piped.status.code(), Some(0), "{}", stderr(&piped));
    let chart = |name: &str| std::fs::read_to_string(bench.path(name)).unwrap();
    assert_eq!(chart("pipe.svg"), chart("file.svg").replace("A2.wav", "-"));
}
