//! The words of a layout that is placed or carried over: what it was carried from, where holes go, what comes first
//! at the bench. Computes nothing.

use crate::diagnosis::words::trimmed;
use crate::instrument::model::{Drive, Hole, Instrument};
use crate::instrument::problem::plain;
use crate::placing::compromise::Split;
use crate::placing::place::Placed;
use crate::placing::scale::Carried;
use crate::placing::second_vent::SecondVent;
use crate::placing::vents::{UpperNote, VentTrade};
use crate::report::layout::{left, paragraph, right, shortened, signed};

/// The longest name that is shown whole.
const NAME_COLUMNS: usize = 16;

/// For marking and drilling round stock (common practice, no source).
const DRILLING: &str = "Drilling round stock: lay the tube in a V-block and clamp it, a dowel inside behind the hole. \
    Centre punch each mark. Start with a thin drill, go up in sizes, feed slowly: acrylic and PVC grab. Deburr inside, \
    then measure the hole and write down what you measured: drills cut over their size.";

/// What was carried over, and how far copying alone would miss.
pub(super) fn carried(donor: &Instrument, carried: &Carried) -> String {
    let semitones = carried.wanted.semitones;
    let pitch = match semitones {
        0 => "the same pitch".to_string(),
        n => format!(
            "{} semitone{} {}",
            n.abs(),
            if n.abs() == 1 { "" } else { "s" },
            if n > 0 { "higher" } else { "lower" }
        ),
    };
    let body = &carried.instrument;
    let [donor_top_mm, top_mm] = carried.tops_mm;
    let mut out = paragraph(
        "",
        &format!(
            "\"scale\" carries a measured layout to another size; a row of notes is not meant. Here: {} {} to {pitch}, \
             bore {:.1} mm, wall {:.1} mm.",
            donor.name,
            donor.prototype,
            body.bore_at_mm(0.0),
            body.wall.thickness_mm
        ),
    );
    out.push_str(&paragraph(
        "",
        &format!(
            "First every length was multiplied by {:.4} from the effective top: mouthpiece and reed stand for {donor_top_mm:.1} \
             mm of the donor's bore and for {top_mm:.1} mm of the new one. That is the column \"copied\". Multiplied \
             from the rim of the tube instead, it would miss as \"from rim\" says. Then the holes were placed anew.",
            carried.times
        ),
    ));
    out.push('\n');
    out
}

/// Where everything goes, from one datum.
pub(super) fn places(placed: &Placed) -> String {
    let after = &placed.after;
    let width = names_width(after.holes.iter().map(|hole| hole.name.as_str()));
    let mut out = paragraph(
        "",
        "Mark all from one datum: where the mouthpiece ends (0). Millimetres, to the centres of the holes.",
    );
    let has_angles = after.holes.iter().any(|hole| hole.angle_deg != 0.0);
    let boxed = &placed.before.keys;
    // Columns that only some plans have.
    let more = |angle: &str, key: &str| {
        let angle = if has_angles { format!(" {}", right(angle, 7)) } else { String::new() };
        if boxed.is_empty() { angle } else { format!("{angle}  {key}") }
    };
    out.push_str(&format!(
        "  {} {} {} {} {} {} {}{}\n",
        left("", width),
        right("at", 8),
        right("moves", 8),
        right("drill first", 11),
        right("then to", 8),
        right("chimney", 8),
        right("pad", 6),
        more("angle", "key")
    ));
    let mut order: Vec<usize> = (0..after.holes.len()).collect();
    order.sort_by(|&a, &b| after.holes[a].at_mm.total_cmp(&after.holes[b].at_mm));
    for index in order {
        let hole = &after.holes[index];
        let first = placed.first_drills_mm.get(index).copied().flatten();
        let kept = placed.kept.contains(&index);
        let moves = if kept {
            "kept".to_string()
        } else {
            signed(placed.before.holes.get(index).map(|before| hole.at_mm - before.at_mm))
        };
        let is_missing = placed.missing_drills.iter().any(|drill| drill.hole == index);
        let mark = if is_missing { "get " } else { "" };
        let key = match placed.keys.key_of(index) {
            Some(key) => shortened(&boxed[key].name, NAME_COLUMNS),
            None if placed.keys.without.iter().any(|none| none.hole == index) => "none".to_string(),
            None => String::new(),
        };
        let line = format!(
            "  {} {} {} {} {} {} {}{}",
            left(&shortened(&hole.name, NAME_COLUMNS), width),
            right(&format!("{:.1}", hole.at_mm), 8),
            right(&moves, 8),
            right(&first.map_or(String::new(), |mm| format!("{mark}{mm:.1}")), 11),
            right(&format!("{:.1}", hole.diameter_mm), 8),
            right(&format!("{:.1}", hole.chimney_mm), 8),
            right(&hole.pad.map_or(String::new(), |pad| format!("{:.1}", pad.diameter_mm)), 6),
            more(&format!("{}°", hole.angle_deg), &key)
        );
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out.push_str(&format!(
        "  {} {} {}\n",
        left("open end", width),
        right(&format!("{:.1}", after.length_mm()), 8),
        right(&signed(Some(after.length_mm() - placed.before.length_mm())), 8)
    ));
    out
}

/// Which keys of the box are used and which are left over; empty without keys.
pub(super) fn keys(placed: &Placed) -> String {
    let (boxed, plan) = (&placed.before.keys, &placed.keys);
    if boxed.is_empty() {
        return String::new();
    }
    let total: usize = boxed.iter().map(|key| key.count).sum();
    let left: Vec<String> = plan
        .left
        .iter()
        .map(|&(key, count)| {
            let name = &boxed[key].name;
            if count == 1 { name.clone() } else { format!("{name} ({count} of them)") }
        })
        .collect();
    let left = if left.is_empty() { String::new() } else { format!(" Left over: {}.", left.join(", ")) };
    let lacking: Vec<&str> =
        plan.without.iter().map(|none| placed.after.holes[none.hole].name.as_str()).collect();
    let lacking =
        if lacking.is_empty() { String::new() } else { format!(" Without a key: {}.", lacking.join(", ")) };
    let angles = if placed.after.holes.iter().any(|hole| hole.angle_deg != 0.0) {
        " Angles go round the tube from the line of the finger holes; + is clockwise seen from the mouthpiece."
    } else {
        ""
    };
    paragraph("", &format!("Keys: {} of {total} are used.{left}{lacking}{angles}", plan.uses.len()))
}

/// Every fingering in cents.
pub(super) fn notes(placed: &Placed, carried: Option<&Carried>) -> String {
    let fingerings = &placed.after.fingerings;
    let width = names_width(fingerings.iter().map(|fingering| fingering.name.as_str()));
    let mut out = String::from("Notes, in cents from target (+ sharp, - flat)\n");
    let copied_head =
        carried.map_or(String::new(), |_| format!(" {} {}", right("copied", 8), right("from rim", 8)));
    out.push_str(&format!(
        "  {} {} {}{copied_head} {} {}\n",
        left("", width),
        right("reg", 3),
        right("placed", 8),
        right("±", 5),
        right("first drill", 11)
    ));
    for note in &placed.notes {
        let fingering = &fingerings[note.fingering];
        let copied = carried.map_or(String::new(), |carried| {
            let column =
                |cents: &[Option<f64>]| right(&signed(cents.get(note.fingering).copied().flatten()), 8);
            format!(" {} {}", column(&carried.copied_cents), column(&carried.from_rim_cents))
        });
        let line = format!(
            "  {} {} {}{copied} {} {}",
            left(&shortened(&fingering.name, NAME_COLUMNS), width),
            right(&fingering.register.to_string(), 3),
            right(&signed(note.cents), 8),
            right(&note.spread_cents.map_or("–".to_string(), |cents| format!("{cents:.1}")), 5),
            right(&signed(note.at_first_cents), 11)
        );
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// What each size of a vent would do, with every hole placed anew for it.
pub(super) fn vent_sizes(placed: &Placed) -> String {
    let Some(first) = placed.vents.first() else { return String::new() };
    let mut tried = placed.vents.clone();
    tried.sort_by(|a, b| a.hole.cmp(&b.hole).then(a.diameter_mm.total_cmp(&b.diameter_mm)));
    let list: Vec<String> = tried
        .iter()
        .map(|tried| {
            let hole = &placed.after.holes[tried.hole];
            let chosen = if hole.diameter_mm == tried.diameter_mm { " (taken)" } else { "" };
            let (size, off) = (trimmed(tried.diameter_mm), tried.off_cents);
            format!(
                "{} {size} mm{chosen}: {off:.1} cents, {} and {}",
                hole.name, tried.undertones, tried.falls
            )
        })
        .collect();
    paragraph(
        "",
        &format!(
            "Vent sizes tried, with all holes placed anew for each: how far the notes are off on average, how many \
             may sound with an undertone, and how many more may fall. {}. To choose yourself: --size \
             {} MM.",
            list.join("; "),
            placed.after.holes[first.hole].name
        ),
    )
}

/// Upper notes that may not speak, and what the vent costs in pitch so that the others do, note by note.
pub(super) fn vent_trade(placed: &Placed) -> String {
    let doubtful = |trade: &&VentTrade| !trade.taken.speaks();
    let names = |trades: &mut dyn Iterator<Item = &VentTrade>| -> String {
        let names: Vec<&str> =
            trades.map(|trade| placed.after.fingerings[trade.fingering].name.as_str()).collect();
        names.join(", ")
    };
    let mut out = String::new();
    let still = names(&mut placed.vent_trades.iter().filter(doubtful));
    if !still.is_empty() {
        let many = format!(
            "By the rule of thumb these may still sound with an undertone or fall, even with the best vent that was tried: \
             {still}."
        );
        out.push_str(&paragraph("", &many));
        out.push_str(&second_vents(placed));
    }
    let told = |note: &UpperNote| {
        let speech = match (note.has_undertone, note.may_fall) {
            (false, false) => "speaks",
            (true, false) => "undertone",
            (false, true) => "may fall",
            (true, true) => "may fall, undertone",
        };
        format!("{} {speech}", right(&signed(note.cents), 6))
    };
    let traded: Vec<(&VentTrade, &UpperNote)> =
        placed.vent_trades.iter().filter_map(|trade| Some((trade, trade.by_pitch.as_ref()?))).collect();
    if traded.is_empty() {
        return out;
    }
    out.push_str(&paragraph(
        "",
        "Pitch alone would have another vent. The upper notes as placed, and as pitch alone would have them (rule of \
         thumb, cents from target):",
    ));
    let width =
        names_width(traded.iter().map(|(trade, _)| placed.after.fingerings[trade.fingering].name.as_str()));
    for (trade, other) in traded {
        let name = shortened(&placed.after.fingerings[trade.fingering].name, NAME_COLUMNS);
        let row = format!("  {} {} {}", left(&name, width), left(&told(&trade.taken), 27), told(other));
        out.push_str(row.trim_end());
        out.push('\n');
    }
    out
}

/// What a second vent would do, or that it would not help.
fn second_vents(placed: &Placed) -> String {
    if placed.second_vents.is_empty() {
        return paragraph("", "A second vent would not help enough to be worth its key.");
    }
    let name = |fingering: &usize| placed.after.fingerings[*fingering].name.as_str();
    let one = |second: &SecondVent| {
        let own = &placed.after.holes[second.vent].name;
        let notes: Vec<&str> = second.fingerings.iter().map(name).collect();
        let [speak, speak_with_both, count] = second.speak;
        let [off, off_with_both] = second.off_cents;
        let speaking = if speak == speak_with_both {
            format!("as many upper notes speak ({speak} of {count})")
        } else {
            format!("{speak_with_both} of {count} upper notes speak, not {speak}")
        };
        paragraph(
            "",
            &format!(
                "A second vent would help: {} mm at {:.1} mm, opened instead of {own} for {}, with {own} {} mm at {:.1} mm \
                 for the others. Then {speaking}, and the notes are off by {off_with_both:.1} cents on average, not \
                 {off:.1}. It needs a key of its own. To plan it, add it to the file as a [[hole]] with vent = true, name \
                 it in those fingerings, and place again.",
                plain(second.second.diameter_mm),
                second.second.at_mm,
                notes.join(", "),
                plain(second.first.diameter_mm),
                second.first.at_mm,
            ),
        )
    };
    placed.second_vents.iter().map(one).collect()
}

/// What the planned file wants where one place must serve two registers; empty when nothing is split.
pub(super) fn compromise(placed: &Placed) -> String {
    let told = |split: &Split| {
        let fingering = &placed.after.fingerings[split.fingering];
        format!("{} {:+}", fingering.name, split.planned_cents(fingering))
    };
    if placed.splits.is_empty() {
        return String::new();
    }
    let list: Vec<String> = placed.splits.iter().map(told).collect();
    paragraph(
        "",
        &format!(
            "The compromise between the registers is the target from now on. The planned file says it as cents: {}. So no \
             later check cuts to undo it.",
            list.join(", ")
        ),
    )
}

/// How to read it, and what to do at the bench.
pub(super) fn advice(placed: &Placed) -> String {
    let after = &placed.after;
    let mut out = paragraph(
        "",
        &format!(
            "± is what drilling and measuring errors do: nine bodies of ten lie nearer. Over all notes it is {:.1} cents. \
             Not in it: the air's temperature, player, reed or lip, and up to 10 cents of the method itself, nearly alike for \
             all notes.",
            placed.spread_cents
        ),
    );
    let cutoffs = || placed.notes.iter().filter_map(|note| note.cutoff_hz);
    let (lowest, highest) = (cutoffs().fold(f64::INFINITY, f64::min), cutoffs().fold(0.0, f64::max));
    if highest > 0.0 {
        out.push_str(&paragraph(
            "",
            &format!(
                "The open holes let sound out above {lowest:.0} to {highest:.0} Hz; the closer the two, the more even the \
                 tone."
            ),
        ));
    }
    let lidded = |hole: &&Hole| hole.pad.is_none() && !hole.finger && !hole.vent;
    if let Some(hole) = after.holes.iter().find(lidded) {
        out.push_str(&paragraph(
            "",
            &format!(
                "Holes without a pad, such as {}, are computed as closed by a flat lid. Where a bare fingertip closes one, \
                 write closed_by = \"finger\" under it and place again.",
                hole.name
            ),
        ));
    }
    let top = match after.drive {
        Drive::Reed => "the mouthpiece's chamber or the reed's give",
        Drive::AirJet => "embouchure_mm",
    };
    out.push_str(&paragraph(
        "",
        &format!(
            "Begin so: saw the tube 10 to 20 mm too long and play it. Correct {top} in the file until the plain tube \
             agrees, and place again. Then drill from the open end up, each hole with its first drill, record, and let \
             check say how far to open it."
        ),
    ));
    out
}

/// Cautions for the work.
pub(super) fn cautions() -> [&'static str; 2] {
    [DRILLING, crate::report::cautions::CUTTING]
}

fn names_width<'n>(names: impl Iterator<Item = &'n str>) -> usize {
    names.map(|name| name.chars().count().min(NAME_COLUMNS)).max().unwrap_or(0).max(9)
}
