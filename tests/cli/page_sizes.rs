//! The pictures of the page have the size that a phone and a sheet of paper need.

use scraper::{ElementRef, Html};

use crate::bench::{Bench, REED_PIPE, reed_tone};
use crate::pages::{all, page, words};

/// A phone 390 px wide, less the page's own edges there.
const PHONE_PX: f64 = 390.0 - 2.0 * 0.8 * 16.0;
/// Smaller letters are hard to read at arm's length (common practice, no source).
const LEAST_LETTER_PX: f64 = 11.0;
/// The lower of A4 and Letter, less the page's margins: 279 mm and twice 14 mm.
const SHEET_MM: f64 = 251.0;

fn samples_and_many() -> Vec<Html> {
    let bench = Bench::new();
    let mut pages = Vec::new();
    for step in ["1", "2", "3"] {
        bench.run(&["demo", "--step", step, "--sound", "without", "--report", "page.html"]);
        pages.push(page(&bench, "page.html"));
    }
    let many: String = (0..60)
        .map(|i| format!("[[fingering]]\nname = \"trial {i}\"\nnote = \"C#2\"\nopen = []\n"))
        .collect();
    let bench = Bench::with(&(REED_PIPE.split("[[fingering]]").next().unwrap().to_string() + &many));
    bench.play(&["trial 1", "trial 7"]);
    bench.run(&["check", "instrument.toml", "--report", "page.html"]);
    pages.push(page(&bench, "page.html"));
    pages
}

fn style(page: &Html) -> String {
    all(page, "head style")[0].text().collect()
}

/// Width and height of the drawing's own measure.
fn measure(svg: ElementRef<'_>) -> (f64, f64) {
    let numbers: Vec<f64> =
        svg.attr("viewBox").unwrap().split(' ').map(|number| number.parse().unwrap()).collect();
    (numbers[2], numbers[3])
}

/// The number that stands in the style between two pieces of it.
#[track_caller]
fn number(style: &str, before: &str, after: &str) -> f64 {
    let rest = style.split_once(before).unwrap_or_else(|| panic!("no {before} in the style")).1;
    rest.split_once(after).unwrap().0.parse().unwrap()
}

#[test]
fn the_letters_of_every_picture_can_be_read_on_a_phone() {
    for page in samples_and_many() {
        let style = style(&page);
        assert!(
            style.contains("@media (max-width:40rem){") && style.contains("body{padding:.6rem .8rem 2rem}")
        );
        let charts = all(&page, "svg.bore-chart");
        assert!(charts.len() > 2);
        for chart in charts {
            let shown = PHONE_PX / measure(chart).0;
            for text in chart.descendent_elements().filter(|element| element.value().name() == "text") {
                let size: f64 = text.attr("font-size").unwrap().parse().unwrap();
                assert!(size * shown >= LEAST_LETTER_PX, "{:.1} px", size * shown);
            }
        }
        let word = number(&style, ".drawn-word{fill:var(--ink);font:", "px");
        for drawing in all(&page, "svg.drawn") {
            assert!(word * PHONE_PX / measure(drawing).0 >= LEAST_LETTER_PX);
        }
    }
}

#[test]
fn no_picture_is_so_high_on_paper_that_half_a_sheet_may_stay_white() {
    for page in samples_and_many() {
        let style = style(&page);
        let print = style.split_once("@media print{\n@page").unwrap().1;
        // A set of pictures may go on on the next sheet, a single one can't.
        assert!(print.contains("figure.whole{max-width:none;break-inside:auto}"));
        for selector in [".figures svg", "svg.drawn"] {
            let width_mm = number(print, &format!("{selector}{{max-width:"), "mm");
            assert!(!all(&page, selector).is_empty());
            for svg in all(&page, selector) {
                let (width, height) = measure(svg);
                let printed_mm = height / width * width_mm;
                assert!(printed_mm < 0.5 * SHEET_MM, "{printed_mm:.0} mm");
            }
        }
    }
}

/// Width of words in Helvetica: each class of letters as wide as its widest (Adobe's font metrics, from memory).
fn width(words: &str, size: f64) -> f64 {
    let part = |c: char| match c {
        'i' | 'j' | 'l' | 'f' | 't' | 'I' | ' ' | '.' | ',' | ':' => 0.278,
        'W' => 0.944,
        '…' => 1.0,
        'm' | 'M' | 'w' | '%' => 0.889,
        c if c.is_uppercase() => 0.778,
        // Signs that only isolate what runs from right to left have no width.
        '\u{2068}' | '\u{2069}' => 0.0,
        _ => 0.584,
    };
    words.chars().map(|c| size * part(c)).sum()
}

/// Left, top, right and bottom of a line of words in a chart.
fn place(text: ElementRef<'_>) -> [f64; 4] {
    let number = |name: &str| text.attr(name).unwrap().parse::<f64>().unwrap();
    let size = number("font-size");
    let width = width(&words(text), size);
    let left = number("x")
        - match text.attr("text-anchor") {
            Some("middle") => 0.5 * width,
            Some("end") => width,
            _ => 0.0,
        };
    // Told by its top, or by its middle.
    let top = number("y") - if text.attr("dy") == Some("0.76em") { 0.0 } else { 0.5 * size };
    [left, top, left + width, top + size]
}

/// The words of a chart that aren't turned.
fn texts<'a>(chart: ElementRef<'a>) -> Vec<ElementRef<'a>> {
    let level = |part: &ElementRef<'_>| part.value().name() == "text" && part.attr("transform").is_none();
    chart.descendent_elements().filter(level).collect()
}

#[test]
fn long_names_neither_touch_a_chart_nor_run_off_it() {
    let wide = "W".repeat(40);
    let hole = "the uppermost hole under the left little finger of the body";
    let bench =
        Bench::with(&REED_PIPE.replace("\"F2\"", &format!("\"{wide}\"\nnote = \"F2\"")).replace("h2", hole));
    let names = ["C#2", "D#2", &wide, "G2"];
    bench.play(&names);
    let predicted = bench.json(&["predict", ".", "--json"]);
    let hz = predicted["fingerings"][2]["predicted_hz"].as_f64().unwrap();
    bench.wav(&format!("takes/{wide}.wav"), &reed_tone(hz * 2f64.powf(-40.0 / 1200.0), 3.0));
    bench.run(&["check", "instrument.toml", "--report", "page.html"]);
    let page = page(&bench, "page.html");
    let mut names_at_axes = 0;
    for chart in all(&page, "svg.bore-chart") {
        let rows = chart.descendent_elements().filter(|part| part.value().name() == "polyline");
        let rows = rows.filter(|part| part.attr("stroke") == Some("#E1E1E1"));
        let starts = rows.map(|row| row.attr("points").unwrap().split(',').next().unwrap().parse().unwrap());
        let axis = starts.fold(f64::INFINITY, f64::min);
        for text in texts(chart) {
            let (said, [left, _, right, _]) = (words(text), place(text));
            assert!(left >= 0.0 && right <= measure(chart).0, "{said} runs off the chart");
            if said.contains("WWW…") && !said.contains("Hz") && !said.contains("wav") {
                assert!(right <= axis, "{said} ends at {right:.0}, the axis stands at {axis:.0}");
                names_at_axes += 1;
            }
        }
    }
    assert!(names_at_axes >= 2, "{names_at_axes}");
    let titles: Vec<String> = all(&page, "#why svg.bore-chart title").into_iter().map(words).collect();
    assert!(titles.iter().any(|title| title.contains(hole)), "{titles:?}");
}

#[test]
fn no_word_of_a_chart_lies_on_a_sign() {
    let mut signs_seen = 0;
    for page in samples_and_many() {
        for chart in all(&page, "svg.bore-chart") {
            let parts = |name: &'static str| {
                chart.descendent_elements().filter(move |part| part.value().name() == name)
            };
            let number = |part: ElementRef<'_>, name: &str| part.attr(name).unwrap().parse::<f64>().unwrap();
            let dots = parts("circle").map(|dot| (number(dot, "cx"), number(dot, "cy")));
            let triangles = parts("polygon").map(|triangle| {
                let numbers = triangle.attr("points").unwrap().split([',', ' ']);
                let numbers: Vec<f64> = numbers.filter_map(|number| number.parse().ok()).collect();
                let mean = |first: usize| numbers.iter().skip(first).step_by(2).sum::<f64>() / 3.0;
                (mean(0), mean(1))
            });
            let signs: Vec<(f64, f64)> = dots.chain(triangles).collect();
            for text in texts(chart) {
                let [left, top, right, bottom] = place(text);
                let on = signs.iter().find(|(x, y)| (left..right).contains(x) && (top..bottom).contains(y));
                let title = words(all(&page, "h1")[0]);
                assert!(on.is_none(), "{title}: {:?} lies on the sign at {on:?}", words(text));
            }
            signs_seen += signs.len();
        }
    }
    assert!(signs_seen > 500, "{signs_seen}");
}
