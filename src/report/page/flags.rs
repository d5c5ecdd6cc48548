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
    heights: Vec<f64>,
}

impl<'a> Rows<'a> {
    /// Lays the flags out. The words stand to the right of their pole; a flag that would cross the poles of
    /// others stands farther out than they do.
    pub(super) fn of(flags: &'a [Flag]) -> Rows<'a> {
        let mut from_right: Vec<usize> = (0..flags.len()).collect();
        from_right.sort_by(|&a, &b| flags[b].x.total_cmp(&flags[a].x));
        let mut row_of = vec![0; flags.len()];
        for (i, &flag) in from_right.iter().enumerate() {
            let end = flags[flag].x + flags[flag].width();
            let crossed = from_right[..i].iter().filter(|&&other| flags[other].x < end);
            row_of[flag] = crossed.map(|&other| row_of[other] + 1).max().unwrap_or(0);
        }
        let count = row_of.iter().map(|row| row + 1).max().unwrap_or(0);
        let mut heights = vec![0.0_f64; count];
        for (flag, &row) in flags.iter().zip(&row_of) {
            heights[row] = heights[row].max(LINE * flag.lines() as f64 + BETWEEN_ROWS);
        }
        Rows { flags, row_of, heights }
    }

    /// Height of all rows together.
    pub(super) fn height(&self) -> f64 {
        self.heights.iter().sum()
    }

    /// The flags drawn, the first row beginning at `from`; `up` above the tube, else below it.
    pub(super) fn drawn(&self, from: f64, up: bool) -> String {
        let mut out = String::new();
        for (flag, &row) in self.flags.iter().zip(&self.row_of) {
            let inner: f64 = self.heights.iter().take(row).sum();
            let text_height = LINE * flag.lines() as f64;
            let top = if up { from - inner - text_height } else { from + inner + BETWEEN_ROWS };
            let tip = if up { top } else { top + text_height };
            out.push_str(&one(flag, top, tip));
        }
        out
    }
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

    #[test]
    fn no_words_touch_other_words_or_the_pole_of_another_name() {
        let places = [0.0, 3.0, 40.0, 41.0, 200.0, 230.0, 600.0, 600.0];
        let flags: Vec<Flag> = places.iter().map(|x| flag(*x, "a name")).collect();
        let rows = Rows::of(&flags);
        for (i, a) in flags.iter().enumerate() {
            for (j, b) in flags.iter().enumerate().filter(|(j, _)| *j != i) {
                let (left, right) = (a.x + GAP, a.x + a.width());
                let pole_crosses = (left..right).contains(&b.x) && rows.row_of[j] >= rows.row_of[i];
                let words_touch =
                    b.x + GAP < right && left < b.x + b.width() && rows.row_of[i] == rows.row_of[j];
                assert!(!pole_crosses && !words_touch, "{i} and {j}: {:?}", rows.row_of);
            }
        }
    }
}
