//! Names at places of a drawing: each a flag on a pole, in as many rows as keep words from touching words
//! and poles. Must not know what is drawn, and computes nothing but where words stand.

use super::html::plain;

/// Letters are this high, in the sheet's units; the page's style may draw them smaller, never larger.
const LETTER: f64 = 22.0;
/// Width of a letter beside its height: Latin ones on the wide side, others as wide as they are high.
const LATIN: f64 = 0.62;
/// From one line to the next, and between rows.
const LINE: f64 = 26.0;
const BETWEEN_ROWS: f64 = 10.0;
/// From the pole to the words, and round the words.
const GAP: f64 = 5.0;
const CLEAR: f64 = 12.0;
/// A sign before the words is so wide.
const SIGN: f64 = 24.0;

/// What a sign beside the words says, in shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sign {
    /// A ring: a suspect.
    Ring,
    /// A wedge: the next cut.
    Wedge,
}

/// A name with what is said of its place.
pub(super) struct Flag {
    /// Its place across the sheet.
    pub x: f64,
    /// Where its pole stands, up or down the sheet.
    pub foot: f64,
    /// The name.
    pub name: String,
    /// What it is marked as, with the sign of each.
    pub marks: Vec<(Sign, &'static str)>,
}

impl Flag {
    fn width(&self) -> f64 {
        let widest =
            self.marks.iter().map(|(_, word)| SIGN + letters(word)).fold(letters(&self.name), f64::max);
        GAP + widest + CLEAR
    }

    /// From where to where its words go when they stand over the pole's tip: a name alone, on the sheet.
    fn centred(&self) -> Option<(f64, f64)> {
        let half = 0.5 * (letters(&self.name) + CLEAR);
        (self.marks.is_empty() && self.x >= half).then_some((self.x - half, self.x + half))
    }

    fn lines(&self) -> usize {
        1 + self.marks.len()
    }

    /// The name and its marks as one line of words.
    pub(super) fn words(&self) -> String {
        let marks = self.marks.iter().map(|(_, word)| *word);
        std::iter::once(self.name.as_str()).chain(marks).collect::<Vec<_>>().join(", ")
    }
}

fn letters(word: &str) -> f64 {
    word.chars().map(|c| if c.is_ascii() { LATIN * LETTER } else { LETTER }).sum()
}

/// How far the flags reach beyond `right`; nothing when they don't.
pub(super) fn overhang(flags: &[Flag], right: f64) -> f64 {
    flags.iter().map(|flag| flag.x + flag.width() - right).fold(0.0, f64::max)
}

/// Flags in their rows, counted from the tube.
pub(super) struct Rows<'a> {
    flags: &'a [Flag],
    row_of: Vec<usize>,
    /// Whether the name stands over the tip of its pole, and not beside it.
    is_centred: Vec<bool>,
    heights: Vec<f64>,
}

impl<'a> Rows<'a> {
    /// Lays the flags out. A name stands over its pole where no other pole is in the way; then two rows do for
    /// keys that stand close. Else it stands to the right of its pole, and farther out than all poles that it
    /// crosses.
    pub(super) fn of(flags: &'a [Flag]) -> Rows<'a> {
        let spans: Vec<((f64, f64), bool)> = (0..flags.len()).map(|flag| span(flags, flag)).collect();
        let mut from_right: Vec<usize> = (0..flags.len()).collect();
        from_right.sort_by(|&a, &b| flags[b].x.total_cmp(&flags[a].x));
        let mut row_of = vec![0; flags.len()];
        for (i, &flag) in from_right.iter().enumerate() {
            let ((start, end), is_centred) = spans[flag];
            let placed = &from_right[..i];
            let crossed = placed.iter().filter(|&&other| !is_centred && flags[other].x < end);
            let lowest = crossed.map(|&other| row_of[other] + 1).max().unwrap_or(0);
            let touched = placed.iter().filter(|&&other| spans[other].0.0 < end && start < spans[other].0.1);
            let taken: Vec<usize> = touched.map(|&other| row_of[other]).collect();
            row_of[flag] = (lowest..).find(|row| !taken.contains(row)).unwrap_or(lowest);
        }
        let count = row_of.iter().map(|row| row + 1).max().unwrap_or(0);
        let mut heights = vec![0.0_f64; count];
        for (flag, &row) in flags.iter().zip(&row_of) {
            heights[row] = heights[row].max(LINE * flag.lines() as f64 + BETWEEN_ROWS);
        }
        let is_centred = spans.iter().map(|(_, is_centred)| *is_centred).collect();
        Rows { flags, row_of, is_centred, heights }
    }

    /// Height of all rows together.
    pub(super) fn height(&self) -> f64 {
        self.heights.iter().sum()
    }

    /// The flags drawn, the first row beginning at `from`; `up` above the tube, else below it.
    pub(super) fn drawn(&self, from: f64, up: bool) -> String {
        let mut out = String::new();
        let places = self.row_of.iter().zip(&self.is_centred);
        for (flag, (&row, &is_centred)) in self.flags.iter().zip(places) {
            let inner: f64 = self.heights.iter().take(row).sum();
            let text_height = LINE * flag.lines() as f64;
            let top = if up { from - inner - text_height } else { from + inner + BETWEEN_ROWS };
            // A pole goes along its words, or ends where they stand over it.
            let tip = if up == is_centred { top + text_height } else { top };
            out.push_str(&if is_centred { over_pole(flag, top, tip) } else { one(flag, top, tip) });
        }
        out
    }
}

/// From where to where the words of a flag go, and whether they stand over its pole.
fn span(flags: &[Flag], flag: usize) -> ((f64, f64), bool) {
    let own = &flags[flag];
    let is_free = |&(from, to): &(f64, f64)| {
        let others = flags.iter().enumerate().filter(|(other, _)| *other != flag);
        others.map(|(_, other)| other.x).all(|x| x <= from || x >= to)
    };
    match own.centred().filter(is_free) {
        Some(span) => (span, true),
        None => ((own.x, own.x + own.width()), false),
    }
}

fn over_pole(flag: &Flag, top: f64, tip: f64) -> String {
    format!(
        "<path class=\"drawn-pole\" d=\"M{x:.1} {:.1}V{tip:.1}\"/>\n<text class=\"drawn-word\" text-anchor=\"middle\" \
         x=\"{x:.1}\" y=\"{:.1}\">{}</text>\n",
        flag.foot,
        top + LINE - 7.0,
        plain(&flag.name),
        x = flag.x
    )
}

fn one(flag: &Flag, top: f64, tip: f64) -> String {
    let strong = if flag.marks.is_empty() { "" } else { " strong" };
    let mut out =
        format!("<path class=\"drawn-pole{strong}\" d=\"M{x:.1} {:.1}V{tip:.1}\"/>\n", flag.foot, x = flag.x);
    let mut base = top + LINE - 7.0;
    let left = flag.x + GAP;
    out.push_str(&word(left, base, strong, &flag.name));
    for (sign, said) in &flag.marks {
        base += LINE;
        out.push_str(&match sign {
            Sign::Ring => format!(
                "<circle class=\"drawn-suspect\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"7\"/>\n",
                left + 9.0,
                base - 7.0
            ),
            Sign::Wedge => {
                format!("<path class=\"drawn-cut\" d=\"M{:.1} {:.1}h16l-8 15Z\"/>\n", left + 1.0, base - 14.0)
            }
        });
        out.push_str(&word(left + SIGN, base, strong, said));
    }
    out
}

fn word(x: f64, base: f64, strong: &str, said: &str) -> String {
    format!("<text class=\"drawn-word{strong}\" x=\"{x:.1}\" y=\"{base:.1}\">{}</text>\n", plain(said))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flag(x: f64, name: &str) -> Flag {
        Flag { x, foot: 0.0, name: name.to_string(), marks: vec![(Sign::Ring, "suspect")] }
    }

    /// No words touch other words, and no pole goes through words.
    #[track_caller]
    fn is_legible(flags: &[Flag]) {
        let rows = Rows::of(flags);
        let words = |i: usize| {
            let (from, to) = span(flags, i).0;
            if rows.is_centred[i] { (from, to) } else { (from + GAP, to) }
        };
        for i in 0..flags.len() {
            for j in (0..flags.len()).filter(|j| *j != i) {
                let ((left, right), (other_left, other_right)) = (words(i), words(j));
                let pole_crosses = (left..right).contains(&flags[j].x) && rows.row_of[j] >= rows.row_of[i];
                let words_touch =
                    other_left < right && left < other_right && rows.row_of[i] == rows.row_of[j];
                assert!(!pole_crosses && !words_touch, "{i} and {j}: {:?}", rows.row_of);
            }
        }
    }

    #[test]
    fn no_words_touch_other_words_or_the_pole_of_another_name() {
        let places = [0.0, 3.0, 40.0, 41.0, 200.0, 230.0, 600.0, 600.0];
        is_legible(&places.map(|x| flag(x, "a name")));
        // With names alone, and with one that is marked among them.
        let mut bare = places.map(|x| Flag { marks: Vec::new(), ..flag(x, "h1") });
        is_legible(&bare);
        bare[4].marks = vec![(Sign::Wedge, "next cut")];
        is_legible(&bare);
    }

    #[test]
    fn the_names_of_twelve_keys_that_stand_close_take_two_rows() {
        let flags: Vec<Flag> = (0..12)
            .map(|i| Flag { marks: Vec::new(), ..flag(60.0 + 30.0 * f64::from(i), &format!("h{}", 8 + i)) })
            .collect();
        is_legible(&flags);
        assert_eq!(Rows::of(&flags).heights.len(), 2);
    }
}
