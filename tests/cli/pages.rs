//! The page of a check: it says everything that was found, whoever reads it, and names from files stay text.

use std::collections::HashSet;

use scraper::{ElementRef, Html, Selector};
use serde_json::Value;

use crate::bench::{Bench, REED_PIPE, reed_tone, stderr};

const ALL: [&str; 4] = ["C#2", "D#2", "F2", "G2"];

/// The page that `arguments` write to `page.html`, and the JSON object that they print.
fn page_and_json(bench: &Bench, arguments: &[&str]) -> (Html, Value) {
    let mut all = arguments.to_vec();
    all.extend(["--report", "page.html", "--json"]);
    let output = bench.run(&all);
    let json = serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", stderr(&output)));
    (page(bench, "page.html"), json)
}

pub fn page(bench: &Bench, name: &str) -> Html {
    let html = std::fs::read_to_string(bench.path(name)).unwrap();
    let page = Html::parse_document(&html);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    page
}

pub fn all<'a>(page: &'a Html, selector: &str) -> Vec<ElementRef<'a>> {
    page.select(&Selector::parse(selector).unwrap()).collect()
}

pub fn words(element: ElementRef<'_>) -> String {
    element.text().collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

pub fn shown(page: &Html) -> String {
    words(all(page, "body")[0])
}

#[track_caller]
pub fn says(page: &Html, sentence: &Value) {
    let sentence: Vec<&str> = sentence.as_str().unwrap().split_whitespace().collect();
    let sentence = sentence.join(" ");
    assert!(shown(page).contains(&sentence), "the page doesn't say: {sentence}");
}

/// What a screen reader, a keyboard and a machine without network need of every page.
#[track_caller]
pub fn is_sound(page: &Html) {
    assert_eq!(all(page, "html")[0].attr("lang"), Some("en"));
    assert_eq!(all(page, "h1").len(), 1);
    let levels: Vec<u32> = all(page, "h1, h2, h3, h4")
        .iter()
        .map(|heading| {
            assert!(!words(*heading).is_empty(), "an empty heading");
            heading.value().name()[1..].parse().unwrap()
        })
        .collect();
    assert!(levels.windows(2).all(|pair| pair[1] <= pair[0] + 1), "a heading skips a level: {levels:?}");
    for svg in all(page, "svg") {
        assert_eq!(svg.attr("role"), Some("img"));
        for (part, least) in [("title", 3), ("desc", 10)] {
            let part = svg.select(&Selector::parse(part).unwrap()).next().expect("a drawing without words");
            assert!(words(part).len() >= least, "{}", words(part));
        }
    }
    for table in all(page, "table") {
        let has = |selector: &str| table.select(&Selector::parse(selector).unwrap()).next().is_some();
        assert!(has("caption") && has("thead th[scope=col]") && has("tbody th[scope=row]"));
    }
    // What is wider than a phone scrolls in a box of its own that the keyboard reaches, under a name.
    for table in all(page, "table") {
        let boxed = ElementRef::wrap(table.parent().unwrap()).unwrap();
        assert_eq!((boxed.attr("class"), boxed.attr("tabindex")), (Some("wide"), Some("0")));
        assert!(boxed.attr("role") == Some("region") && !boxed.attr("aria-label").unwrap().is_empty());
    }
    for folded in all(page, "details") {
        let first = folded.child_elements().next().expect("something to fold");
        assert!(first.value().name() == "summary" && !words(first).is_empty());
    }
    for part in all(page, "[tabindex]") {
        assert_eq!(part.attr("tabindex"), Some("0"), "the order of the page is the order of the keyboard");
    }
    let style: String = all(page, "head style")[0].text().collect();
    assert!(style.contains(":focus-visible{outline:3px") && !style.contains("outline:0"));
    assert!(style.contains(".wide{overflow-x:auto"));
    let mut ids = HashSet::new();
    for element in all(page, "[id]") {
        assert!(ids.insert(element.attr("id").unwrap()), "the id {:?} stands twice", element.attr("id"));
    }
    for element in all(page, "[aria-labelledby]") {
        for id in element.attr("aria-labelledby").unwrap().split_whitespace() {
            assert!(ids.contains(id), "nothing has the id {id}");
        }
    }
    // Nothing runs, nothing is fetched, nothing leads away.
    let foreign = "script, link, iframe, object, embed, form, base, img, meta[http-equiv=refresh]";
    assert!(all(page, foreign).is_empty());
    for element in all(page, "*") {
        for (name, value) in element.value().attrs() {
            assert!(!name.starts_with("on"), "{name}={value}");
            let refers = matches!(name, "src" | "href" | "xlink:href" | "poster" | "action" | "data");
            let inside = value.starts_with('#') || value.starts_with("data:audio/");
            assert!(!refers || inside, "{name}={}", &value[..value.len().min(80)]);
        }
    }
    let policy = all(page, "meta[http-equiv=Content-Security-Policy]");
    assert!(policy[0].attr("content").unwrap().starts_with("default-src 'none'"));
}

/// Every chart has something in it besides axes: a sign or a line of data.
#[track_caller]
pub fn has_no_empty_chart(page: &Html) {
    for svg in all(page, "svg.bore-chart") {
        let data = svg.select(&Selector::parse("circle, polygon, polyline[stroke-width]").unwrap()).count();
        assert!(data > 0, "an empty chart: {}", words(svg));
    }
}

#[test]
fn the_page_says_every_finding_the_next_action_and_every_cut_of_the_samples() {
    let bench = Bench::new();
    for step in ["1", "2", "3"] {
        let (page, json) = page_and_json(&bench, &["demo", "--step", step]);
        is_sound(&page);
        has_no_empty_chart(&page);
        says(&page, &json["next"]["text"]);
        for (i, finding) in json["findings"].as_array().unwrap().iter().enumerate() {
            // Health that hardly anything speaks for is no news beside a fault.
            if i > 0 && finding["cause"] == "healthy" && finding["weight"].as_f64().unwrap() < 0.1 {
                assert!(!all(&page, "h3").into_iter().any(|heading| words(heading).starts_with("healthy")));
                continue;
            }
            says(&page, &finding["text"]);
            finding["evidence"].as_array().unwrap().iter().for_each(|evidence| says(&page, evidence));
            if !finding["test"].is_null() {
                says(&page, &finding["test"]);
            }
        }
        json["cuts"].as_array().unwrap().iter().for_each(|cut| says(&page, &cut["text"]));
        // What to do comes before why, and why before the figures.
        let order: Vec<String> = all(&page, "h2").into_iter().map(words).collect();
        let at = |heading: &str| order.iter().position(|known| known == heading).expect(heading);
        assert!(at("What to do next") < at("Why") && at("Why") < at("The instrument"));
        assert!(at("The instrument") < at("The notes") && at("The notes") < at("Cuts"));
        assert_eq!(at("How this was computed"), order.len() - 1);
    }
}

#[test]
fn work_with_wax_putty_or_a_drill_stands_with_its_caution_on_page_and_screen() {
    let bench = Bench::new();
    // At the first step there is nothing to cut yet: the drill's caution stands with the cuts that are listed.
    let cautions = [
        ("1", "#cuts .caution", "no gloves at the drill"),
        ("2", "#next .caution", "over a flame"),
        ("3", "#next .caution", "full cure"),
    ];
    for (step, place, caution) in cautions {
        let (page, _) = page_and_json(&bench, &["demo", "--step", step]);
        let boxed: String = all(&page, place).into_iter().map(words).collect();
        assert!(boxed.contains(caution), "step {step}: {boxed}");
        let screen = String::from_utf8(bench.run(&["demo", "--step", step]).stdout).unwrap();
        let screen = screen.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(screen.contains(caution), "step {step}: {screen}");
    }
}

#[cfg(unix)]
#[test]
fn a_hostile_name_stays_text_wherever_it_stands() {
    let name = "</title></svg><script>alert('x')</script>\\\"=1+1&amp;\u{202e}evil\u{200f}";
    let bench = Bench::with(&REED_PIPE.replace("Test Pipe", name));
    bench.play(&ALL);
    bench.wav("takes/C#2-<script>alert(1)<b>.wav", &reed_tone(69.0, 2.0));
    bench.wav("takes/F2 \" onload=x ' \u{202e}.wav", &vec![0.0; 16_000]);
    let (page, json) = page_and_json(&bench, &["check", "instrument.toml", "takes"]);
    is_sound(&page);
    let heading = words(all(&page, "h1")[0]);
    assert!(heading.contains("<script>alert('x')</script>\"=1+1&amp;"), "{heading}");
    assert!(json["instrument"].as_str().unwrap().contains('\u{202e}'), "the name itself is kept in the data");
    let source = std::fs::read_to_string(bench.path("page.html")).unwrap();
    for sign in ['\u{202e}', '\u{200f}'] {
        assert!(!source.contains(sign), "a sign that turns the text is left");
    }
    assert!(!source.contains("<script") && !source.contains("<b>"));
}

#[test]
fn a_name_from_right_to_left_does_not_turn_the_sentence_round_it() {
    let hole = "\u{5d7}\u{5d5}\u{5e8}";
    let bench = Bench::with(&REED_PIPE.replace("\"h2\"", &format!("\"{hole}\"")));
    bench.play(&ALL);
    // The hole acts too small: its note is 40 cents flat.
    let json = bench.json(&["predict", ".", "--json"]);
    let hz = json["fingerings"][2]["predicted_hz"].as_f64().unwrap();
    bench.wav("takes/F2.wav", &reed_tone(hz * 2f64.powf(-40.0 / 1200.0), 3.0));
    let (page, json) = page_and_json(&bench, &["check", "instrument.toml", "takes"]);
    is_sound(&page);
    let told = json["findings"].to_string() + &json["next"].to_string();
    assert!(told.contains(hole), "the test needs a sentence with the name: {told}");
    for text in all(&page, "body")[0].descendants().filter_map(|node| {
        let text = node.value().as_text()?;
        let parent = node.parent()?.value().as_element()?.name();
        (text.contains(hole) && parent != "bdi").then(|| text.to_string())
    }) {
        // A drawing knows no such element; there the signs of Unicode do it.
        assert!(text.contains(&format!("\u{2068}{hole}\u{2069}")), "{text}");
    }
}

#[test]
fn the_page_of_a_whole_sample_is_small_and_carries_sound_only_where_it_is_wanted() {
    let bench = Bench::new();
    for step in ["1", "2", "3"] {
        let (page, json) = page_and_json(&bench, &["demo", "--step", step, "--sound", "without"]);
        let bytes = std::fs::metadata(bench.path("page.html")).unwrap().len();
        assert!(bytes < 2_000_000, "step {step}: {bytes} bytes");
        assert!(all(&page, "audio").is_empty() && shown(&page).contains("--sound with"));
        assert_eq!(all(&page, "details.take svg").len(), json["fingerings"].as_array().unwrap().len());
    }
    let (page, _) = page_and_json(&bench, &["demo"]);
    is_sound(&page);
    let sounds = all(&page, "audio");
    assert_eq!(sounds.len(), 18);
    for sound in sounds {
        assert!(sound.attr("controls").is_some() && sound.attr("aria-label").unwrap().contains(".wav"));
        // "RIFF" in base64: the sound is a WAV.
        assert!(sound.attr("src").unwrap().starts_with("data:audio/wav;base64,UklGR"));
    }
}

#[test]
fn a_page_shows_what_is_there_with_one_fingering_with_many_and_when_no_take_can_be_used() {
    let one = REED_PIPE.split("[[hole]]").next().unwrap().to_string()
        + "[[fingering]]\nname = \"C#2\"\nopen = []\n";
    let bench = Bench::with(&one);
    bench.play(&["C#2"]);
    let (page, json) = page_and_json(&bench, &["check", "instrument.toml"]);
    is_sound(&page);
    has_no_empty_chart(&page);
    says(&page, &json["next"]["text"]);
    // Sixty notes make several charts, each of which fits a sheet.
    let many: String = (0..60)
        .map(|i| format!("[[fingering]]\nname = \"trial {i}\"\nnote = \"C#2\"\nopen = []\n"))
        .collect();
    let bench = Bench::with(&(REED_PIPE.split("[[fingering]]").next().unwrap().to_string() + &many));
    bench.play(&["trial 1"]);
    let (page, _) = page_and_json(&bench, &["check", "instrument.toml"]);
    is_sound(&page);
    has_no_empty_chart(&page);
    assert_eq!(all(&page, "#notes tbody tr").len(), 60);
    assert_eq!(all(&page, "#notes svg").len(), 4);
    // All takes silent.
    let bench = Bench::new();
    for name in ALL {
        bench.wav(&format!("takes/{name}.wav"), &vec![0.0; 32_000]);
    }
    let (page, json) = page_and_json(&bench, &["check", "instrument.toml"]);
    is_sound(&page);
    has_no_empty_chart(&page);
    says(&page, &json["findings"][0]["text"]);
    assert!(shown(&page).contains("No note was measured."));
    // The key names what is drawn, and nothing else.
    let key: Vec<String> = all(&page, "#notes svg text").into_iter().map(words).collect();
    assert!(
        key.iter().any(|word| word == "predicted") && !key.iter().any(|word| word == "measured"),
        "{key:?}"
    );
}

#[test]
fn the_pictures_of_a_page_are_files_of_their_own_too() {
    let bench = Bench::new();
    let output = bench.run(&["demo", "--step", "2", "--plots", "new/plots"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let mut files: Vec<String> = std::fs::read_dir(bench.path("new/plots"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    files.sort();
    for file in ["instrument.svg", "register-1.svg", "register-2.svg", "undertones.svg", "take-F#4.svg"] {
        assert!(files.iter().any(|known| known == file), "{file} is not in {files:?}");
    }
    assert!(files.iter().any(|file| file.starts_with("why-")), "{files:?}");
    assert!(files.iter().all(|file| file.ends_with(".svg")), "{files:?}");
    for file in files {
        let svg = std::fs::read_to_string(bench.path("new/plots").join(&file)).unwrap();
        assert!(
            svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\"")
                && svg.trim_end().ends_with("</svg>"),
            "{file}"
        );
        assert!(svg.contains("prefers-color-scheme"), "{file} is the same on a dark screen");
    }
    bench.wav("a file", &[]);
    let output = bench.run(&["demo", "--step", "2", "--plots", "a file"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(stderr(&output).contains("a file can't be written"), "{}", stderr(&output));
}

#[test]
fn a_bench_book_keeps_a_page_with_each_step_that_tells_what_the_change_did() {
    let bench = Bench::new();
    bench.run(&["new", "book"]);
    let book = |name: &str| bench.path(&format!("book/{name}"));
    std::fs::write(book("instrument.toml"), REED_PIPE).unwrap();
    bench.play(&ALL);
    let keep = |step: &str| {
        for name in ALL {
            let take = format!("{name}.wav");
            std::fs::copy(bench.path("takes").join(&take), book(&format!("P1/{step}/takes/{take}"))).unwrap();
        }
    };
    let first = std::fs::read_dir(book("P1")).unwrap().next().unwrap().unwrap().file_name();
    let first = first.to_str().unwrap();
    keep(first);
    let told = String::from_utf8(bench.run(&["check", "book"]).stdout).unwrap();
    let page_of = |step: &str| format!("book/P1/{step}/check.html");
    assert!(told.contains(&page_of(first)), "{told}");
    std::fs::write(
        book("instrument.toml"),
        REED_PIPE.replacen("diameter_mm = 12.0", "diameter_mm = 12.5", 1),
    )
    .unwrap();
    bench.run(&["step", "<b>h1</b> opened", "--book", "book"]);
    let mut steps: Vec<String> = std::fs::read_dir(book("P1"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    steps.sort();
    keep(&steps[1]);
    bench.json(&["check", "book", "--json"]);
    let page = page(&bench, &page_of(&steps[1]));
    is_sound(&page);
    has_no_empty_chart(&page);
    let history = words(all(&page, "#history")[0]);
    for said in
        ["<b>h1</b> opened", "12 mm → 12.5 mm", "This page is about this step", "What the last change did"]
    {
        assert!(history.contains(said), "{said}: {history}");
    }
    // Asked not to, and asked about other takes, it leaves the page alone.
    std::fs::remove_file(bench.path(&page_of(&steps[1]))).unwrap();
    bench.run(&["check", "book", "--no-report"]);
    bench.run(&["check", "book", "takes"]);
    assert!(!bench.path(&page_of(&steps[1])).exists());
}

#[test]
fn a_page_that_can_not_be_written_is_told_by_its_name_and_what_was_found_is_not_lost() {
    let bench = Bench::new();
    bench.play(&ALL);
    for arguments in [vec!["check", "instrument.toml", "takes"], vec!["demo", "--step", "2"]] {
        let mut all = arguments;
        all.extend(["--report", "nowhere/page.html"]);
        let output = bench.run(&all);
        assert_eq!(output.status.code(), Some(1));
        assert!(String::from_utf8_lossy(&output.stdout).contains("Next:"));
        let told = stderr(&output);
        assert!(told.contains("nowhere/page.html can't be written") && told.contains("folder"), "{told}");
        assert!(!told.contains("book"), "{told}");
    }
    bench.refuses(&["demo", "--report", "page.txt"], 2, &["page.txt", ".html"]);
}
