//! The colours of the page and its charts stand out from their ground, on light and on dark screens.

use std::collections::{BTreeMap, BTreeSet};

use scraper::{ElementRef, Html};

use crate::bench::Bench;
use crate::pages::{all, page};

/// Between words and their ground: WCAG 2.2, success criterion 1.4.3 (level AA; from memory).
const WORDS: f64 = 4.5;
/// Between what has to be seen of a drawing and its ground: WCAG 2.2, success criterion 1.4.11 (from memory).
const DRAWN: f64 = 3.0;
/// The charts' grid. Nothing is told by it alone: every value stands in a table beside the chart.
const GRID: &str = "#E1E1E1";
const CHART_PAPER: &str = "#FFFFFF";

/// Relative luminance of `#RGB` or `#RRGGBB`, as WCAG 2.2 defines it (from memory).
fn luminance(hex: &str) -> f64 {
    let digits: String = match hex.strip_prefix('#').unwrap() {
        short if short.len() == 3 => short.chars().flat_map(|c| [c, c]).collect(),
        long => long.to_string(),
    };
    let linear = [0, 2, 4].map(|at| {
        let channel = f64::from(u8::from_str_radix(&digits[at..at + 2], 16).unwrap()) / 255.0;
        if channel <= 0.04045 { channel / 12.92 } else { ((channel + 0.055) / 1.055).powf(2.4) }
    });
    0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
}

#[track_caller]
fn stands_out(what: &str, colour: &str, ground: &str, least: f64) {
    let (a, b) = (luminance(colour), luminance(ground));
    let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
    assert!(contrast >= least, "{what}: {colour} on {ground} has {contrast:.2} to 1, not {least}");
}

#[test]
fn the_measure_of_contrast_is_right_at_its_ends() {
    assert!((luminance("#fff") - 1.0).abs() < 1e-12 && luminance("#000000") == 0.0);
}

fn pages() -> Vec<Html> {
    let bench = Bench::new();
    ["1", "2", "3"]
        .map(|step| {
            bench.run(&["demo", "--step", step, "--sound", "without", "--report", "page.html"]);
            page(&bench, "page.html")
        })
        .into()
}

/// The colours by their role that follow `from` in the page's style.
fn roles(style: &str, from: &str) -> BTreeMap<String, String> {
    let block = style.split_once(from).unwrap().1;
    let block = block.split_once(":root{").unwrap().1.split('}').next().unwrap();
    let pairs = block.split(';').filter_map(|pair| pair.strip_prefix("--")?.split_once(':'));
    pairs.map(|(role, colour)| (role.to_string(), colour.to_string())).collect()
}

#[test]
fn the_words_and_signs_of_the_page_stand_out_on_light_and_dark_screens() {
    let page = &pages()[0];
    let style: String = all(page, "head style")[0].text().collect();
    for screen in ["", "(prefers-color-scheme:dark)"] {
        let roles = roles(&style, screen);
        // The rule between sections is ornament. The drawing of the instrument has the same colours.
        for word in ["ink", "faint", "first", "second"] {
            for ground in ["paper", "block"] {
                stands_out(&format!("{word} {screen}"), &roles[word], &roles[ground], WORDS);
            }
        }
    }
}

/// What a chart makes of each of its colours on a dark screen.
fn on_dark(chart: ElementRef<'_>) -> BTreeMap<String, String> {
    let style: String =
        chart.descendent_elements().find(|e| e.value().name() == "style").unwrap().text().collect();
    let rules = style.split("[fill=\"").skip(1);
    rules.map(|rule| (rule[..7].to_string(), rule.split("{fill:").nth(1).unwrap()[..7].to_string())).collect()
}

#[test]
fn every_colour_of_every_chart_stands_out_on_light_and_dark_screens() {
    let mut inks = BTreeSet::new();
    let mut shades = 0;
    for page in pages() {
        for chart in all(&page, "svg.bore-chart") {
            let on_dark = on_dark(chart);
            let elements: Vec<ElementRef<'_>> = chart.descendent_elements().collect();
            for (i, element) in elements.iter().enumerate() {
                let is_colour = |value: &&str| value.starts_with('#');
                let told = ["fill", "stroke"].map(|name| element.attr(name).filter(is_colour));
                for colour in told.into_iter().flatten().filter(|c| ![GRID, CHART_PAPER].contains(c)) {
                    let opacity: f64 = element.attr("opacity").map_or(1.0, |text| text.parse().unwrap());
                    if opacity < 1.0 {
                        // A light shade is told by its edge.
                        assert_eq!(elements[i + 1].attr("stroke"), Some(colour), "a shade without an edge");
                        shades += 1;
                        continue;
                    }
                    let least = if element.value().name() == "text" { WORDS } else { DRAWN };
                    stands_out("on light", colour, CHART_PAPER, least);
                    let dark =
                        on_dark.get(colour).unwrap_or_else(|| panic!("{colour} stays as it is on dark"));
                    stands_out("on dark", dark, &on_dark[CHART_PAPER], least);
                    inks.insert(colour.to_string());
                }
            }
        }
    }
    assert!(inks.len() >= 4 && shades > 0, "the samples show too little to say anything: {inks:?}, {shades}");
}
