//! The maker's instrument file: what is read from it, and the sentence for everything that is refused.

mod geometry;
mod goal;
mod keys;
mod names;
mod reading;
mod robust;
mod writing;

use borescribe::instrument::file::parse;
use borescribe::instrument::problem::Problem;

/// A whole instrument with every key, which has no problem.
pub const WHOLE: &str = include_str!("whole.toml");

/// The problems of a text that must have some.
pub fn problems(text: &str) -> Vec<Problem> {
    parse(text).expect_err("the text should be refused")
}

/// [`WHOLE`] with one piece, which must stand in it once, replaced.
pub fn changed(from: &str, to: &str) -> String {
    assert_eq!(WHOLE.matches(from).count(), 1, "{from} must stand once in whole.toml");
    WHOLE.replacen(from, to, 1)
}

/// Asserts that replacing `from` by `to` makes exactly one problem, at the first character of `at`
/// within the changed text (`at` must stand in it once), with this sentence and this advice.
pub fn refused(from: &str, to: &str, at: &str, what: &str, to_do: &str) {
    let text = changed(from, to);
    assert_eq!(text.matches(at).count(), 1, "{at} must stand once in the changed text");
    let offset = text.find(at).unwrap();
    let line = text[..offset].matches('\n').count() + 1;
    let column = text[..offset].rsplit('\n').next().unwrap().chars().count() + 1;
    let found = problems(&text);
    let shown: Vec<String> = found.iter().map(ToString::to_string).collect();
    assert_eq!(found.len(), 1, "one problem expected after {to:?}:\n{}", shown.join("\n"));
    let place = (found[0].line, found[0].column);
    assert_eq!((found[0].what.as_str(), found[0].to_do.as_str(), place), (what, to_do, (line, column)));
}
