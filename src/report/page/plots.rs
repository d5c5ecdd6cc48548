//! The pictures of the page as files of their own, for a notebook or a letter. Computes nothing.

use super::sheet::Sheet;
use super::{drawing, history, notes, takes, undertones, why};
use crate::report::chart::ChartError;
use crate::report::check_words::suspect_words;

/// One picture.
pub struct Plot {
    /// What its file is to be called: letters, digits, `-`, `_`, `#` and the ending `.svg`.
    pub file: String,
    /// The drawing, with its own style.
    pub svg: String,
}

/// Every picture of the page.
///
/// # Errors
/// [`ChartError`] when one can't be drawn.
pub fn plots(sheet: &Sheet<'_>) -> Result<Vec<Plot>, ChartError> {
    let (instrument, check) = (sheet.instrument, sheet.check);
    let mut all =
        Plots(vec![Plot { file: "instrument.svg".to_string(), svg: drawing::alone(instrument, check) }]);
    for (i, finding) in check.findings.iter().enumerate().filter(|(_, finding)| !finding.pattern.is_empty()) {
        let called = format!("why-{}-{}", i + 1, suspect_words(&finding.suspect));
        all.add(&called, why::evidence_charts(instrument, check, finding, i + 1)?);
    }
    for charts in notes::register_charts(instrument, check)? {
        all.add(&format!("register-{}", charts.register), charts.svgs);
    }
    all.add("undertones", undertones::undertone_charts(instrument, check)?);
    if let Some(book) = &sheet.book {
        all.add("change", history::change_charts(instrument, check, book)?);
    }
    for (i, take) in sheet.takes.iter().enumerate() {
        let stem = take.file.rsplit_once('.').map_or(take.file.as_str(), |(stem, _)| stem);
        all.add(&format!("take-{stem}"), takes::chart(instrument, take, i + 1)?.into_iter().collect());
    }
    Ok(all.0)
}

struct Plots(Vec<Plot>);

impl Plots {
    /// Adds pictures under names that no other has.
    fn add(&mut self, called: &str, svgs: Vec<String>) {
        let keep = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '#');
        let called: String = called.chars().map(|c| if keep(c) { c } else { '-' }).collect();
        for svg in svgs {
            let name =
                |number: usize| if number == 1 { called.clone() } else { format!("{called}-{number}") };
            let taken = |file: &String| self.0.iter().any(|plot| plot.file.eq_ignore_ascii_case(file));
            let free = (1..).map(|number| format!("{}.svg", name(number))).find(|file| !taken(file));
            self.0.extend(free.map(|file| Plot { file, svg }));
        }
    }
}
