//! Numbers that a slip of the pen turns into another: a digit lost, doubled, mistaken or swapped, a point set wrong.
//!
//! Must not know what they measure.

/// What could have been meant by `written`, each once; in tenths at the finest.
#[must_use]
pub(super) fn slips_mm(written: f64) -> Vec<f64> {
    let text = format!("{}", (written * 10.0).round() / 10.0);
    let (whole, rest) = text
        .split_once('.')
        .map_or((text.as_str(), String::new()), |(whole, rest)| (whole, format!(".{rest}")));
    let digits: Vec<char> = whole.chars().collect();
    let mut meant = vec![written * 10.0, written / 10.0];
    let mut push = |digits: Vec<char>| {
        let number: String = digits.into_iter().collect::<String>() + &rest;
        // A number that begins with 0 is not written so.
        meant.extend(number.parse::<f64>().ok().filter(|_| !number.starts_with('0')));
    };
    for place in 0..=digits.len() {
        for digit in '0'..='9' {
            let mut longer = digits.clone();
            longer.insert(place, digit);
            push(longer);
            if place < digits.len() {
                let mut other = digits.clone();
                other[place] = digit;
                push(other);
            }
        }
    }
    for place in 0..digits.len() {
        let mut shorter = digits.clone();
        shorter.remove(place);
        push(shorter);
        if place > 0 {
            let mut swapped = digits.clone();
            swapped.swap(place - 1, place);
            push(swapped);
        }
    }
    meant.retain(|number| (number - written).abs() > 1e-9);
    meant.sort_by(f64::total_cmp);
    meant.dedup();
    meant
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_digit_may_be_lost_doubled_mistaken_or_swapped_and_the_point_set_wrong() {
        let from = |written: f64, meant: f64| {
            assert!(slips_mm(written).iter().any(|mm| (mm - meant).abs() < 1e-9), "{written} for {meant}");
        };
        from(58.0, 558.0);
        from(5558.5, 558.5);
        from(458.0, 558.0);
        from(585.0, 558.0);
        from(55.8, 558.0);
        from(12250.0, 1225.0);
        assert!(!slips_mm(558.0).contains(&558.0));
    }
}
