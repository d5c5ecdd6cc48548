//! One cause with every note, as text and JSON. Computes nothing.

use serde_json::{Value, json};

use super::check_json::amount_json;
use super::check_words::percent;
use crate::diagnosis::findings::cause_names::cause_name;
use crate::diagnosis::findings::one_cause::{Account, NoteAccount, Says};
use crate::instrument::model::Instrument;
use crate::report::layout::{hanging, left, paragraph, right, shortened, signed};

/// The longest name of a fingering that is shown whole.
const NAME_COLUMNS: usize = 16;
/// Widths of the columns.
const MEASURED: usize = 10;
const CAUSE: usize = 12;
const SHARED: usize = 15;
const LEFT: usize = 8;

/// The causes one below the other.
#[must_use]
pub fn text(instrument: &Instrument, accounts: &[&Account]) -> String {
    if accounts.is_empty() {
        return paragraph(
            "",
            "No take could be compared with its prediction yet, so that no cause was weighed. Run check without \
             --explain: it says why beside each take.",
        );
    }
    accounts.iter().map(|account| one(instrument, account)).collect::<Vec<_>>().join("\n")
}

fn one(instrument: &Instrument, account: &Account) -> String {
    let finding = &account.finding;
    let mut out = format!("{}: {} %\n", name(instrument, account).replace(':', " "), percent(finding));
    let head = if account.cause.is_some() { "  If it were so: " } else { "  " };
    out.push_str(&hanging(head, &finding.text, 2));
    out.push('\n');
    out.push_str(&table(instrument, &account.notes));
    out.push('\n');
    out.push_str(&paragraph("  ", &account.verdict(instrument)));
    if let Some(test) = &finding.test {
        out.push_str(&hanging("  Test: ", test, 2));
    }
    out
}

fn name(instrument: &Instrument, account: &Account) -> String {
    account.cause.map_or_else(
        || account.finding.suspect.kind.as_str().to_string(),
        |cause| cause_name(instrument, cause),
    )
}

fn table(instrument: &Instrument, notes: &[NoteAccount]) -> String {
    let name = |note: &NoteAccount| shortened(&instrument.fingerings[note.fingering].name, NAME_COLUMNS);
    let width = notes.iter().map(|note| name(note).chars().count()).max().unwrap_or(0).max(4);
    let line = |cells: [&str; 6]| {
        let [name, measured, cause, shared, rest, says] = cells;
        let line = format!(
            "  {} {} {} {} {}  {says}",
            left(name, width),
            right(measured, MEASURED),
            right(cause, CAUSE),
            right(shared, SHARED),
            right(rest, LEFT)
        );
        format!("{}\n", line.trim_end())
    };
    let mut out = String::from("  Cents (+ sharp, - flat)\n");
    out.push_str(&line(["", "measured -", "this cause", "player, reed,", "left", ""]));
    out.push_str(&line(["", "predicted", "would do", "air besides", "over", "says"]));
    for note in notes {
        let says = match note.says() {
            Says::For => "for it",
            Says::Against => "against",
            Says::Little => "",
        };
        let cents = [note.measured_cents, note.cause_cents, note.shared_cents, note.left_cents];
        let [measured, cause, shared, rest] = cents.map(|cents| signed(Some(cents)));
        out.push_str(&line([&name(note), &measured, &cause, &shared, &rest, says]));
    }
    out
}

/// The causes as JSON, under the key `explained` of the `check` object.
#[must_use]
pub fn json(instrument: &Instrument, accounts: &[&Account]) -> Value {
    let note = |note: &NoteAccount| {
        json!({
            "name": instrument.fingerings[note.fingering].name,
            "measured_minus_predicted_cents": note.measured_cents,
            "cause_cents": note.cause_cents,
            "shared_cents": note.shared_cents,
            "left_cents": note.left_cents,
            "speaks": note.speaks,
            "says": match note.says() {
                Says::For => "for",
                Says::Against => "against",
                Says::Little => "little",
            },
        })
    };
    let one = |account: &&Account| {
        let finding = &account.finding;
        json!({
            "name": name(instrument, account),
            "cause": finding.suspect.kind.as_str(),
            "where": finding.suspect.place,
            "weight": finding.weight,
            "amount": amount_json(&finding.amount),
            "text": finding.text,
            "fingerings": account.notes.iter().map(note).collect::<Vec<_>>(),
            "spoke": account.spoke,
            "times_likelier": account.times_likelier().min(f64::MAX),
            "verdict": account.verdict(instrument),
            "test": finding.test,
        })
    };
    json!(accounts.iter().map(one).collect::<Vec<_>>())
}
