//! What `step --found` and `step --measured` say they have kept. Computes nothing.

use std::path::PathBuf;

use serde_json::{Value, json};

use crate::book::remeasured::Plan;
use crate::report::layout::paragraph;

/// What was found, and how long it holds.
#[must_use]
pub fn found_text(step: &str, found: &[String]) -> String {
    let kept = format!(
        "{step}: {} is kept. What was found of a place holds until a later step touches it: borescribe step --touched \
         PLACE \"what was done\", or a change of its measures. What was heard of a note holds for this step.",
        found.join(", ")
    );
    paragraph("", &kept)
}

/// The same as a JSON object.
#[must_use]
pub fn found_json(prototype: &str, step: &str, found: &[String]) -> Value {
    json!({ "prototype": prototype, "step": step, "found": found })
}

/// Which frozen files were written anew, and where the old ones are.
#[must_use]
pub fn measured_text(plan: &Plan, kept: &[PathBuf]) -> String {
    let mut out = String::from("Measured better, nothing was cut:\n");
    plan.changes.iter().for_each(|change| out.push_str(&format!("  {change}\n")));
    for (rewriting, before) in plan.steps.iter().zip(kept) {
        let step = &rewriting.step;
        let file = before.file_name().unwrap_or_default().to_string_lossy();
        let line = format!("{}/{} has the new measures. The old ones: {file}", step.prototype(), step.name());
        out.push_str(&paragraph("", &line));
    }
    out.push_str("Then: borescribe check\n");
    out
}

/// The same as a JSON object.
#[must_use]
pub fn measured_json(plan: &Plan, kept: &[PathBuf]) -> Value {
    let change = |change: &crate::instrument::difference::Difference| json!({ "what": change.what, "old": change.old, "new": change.new });
    let step = |(rewriting, before): (&crate::book::remeasured::Rewriting, &PathBuf)| {
        json!({
            "prototype": rewriting.step.prototype(),
            "step": rewriting.step.name(),
            "before": before.display().to_string(),
        })
    };
    json!({
        "changes": plan.changes.iter().map(change).collect::<Vec<_>>(),
        "steps": plan.steps.iter().zip(kept).map(step).collect::<Vec<_>>(),
    })
}
