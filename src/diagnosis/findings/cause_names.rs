//! What causes of pitch are called when one of them is asked for: `leak:p3`, `hole:h5`, `air`, `healthy`.
//!
//! Must not know what was measured.

use crate::diagnosis::causes::catalogue::{Cause, causes_of};
use crate::diagnosis::findings::ranking::{Kind, suspect};
use crate::instrument::model::Instrument;
use crate::instrument::spelling::{folded, nearest};

/// What was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked {
    /// That nothing is wrong.
    Healthy,
    /// All of these: what goes by one name, such as both ends of the tube.
    All(Vec<Cause>),
    /// The heaviest of these: a kind was named without a place.
    Heaviest(Vec<Cause>),
}

/// A name that no cause has.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CauseNameError {
    /// Found by its sound, not by its pitch.
    #[error(
        "--explain {written}: {kind} is found by its sound, not by what it does to the pitch of the notes.\n  \
         Run check without --explain: the finding tells what it rests on. Causes of pitch are: {known}"
    )]
    NotByPitch {
        /// What was typed.
        written: String,
        /// The kind, in words.
        kind: &'static str,
        /// What can be asked.
        known: String,
    },
    /// No such cause.
    #[error("--explain {written}: nothing goes by that name.{meant}\n  You can ask for: {known}")]
    Unknown {
        /// What was typed.
        written: String,
        /// ` Did you mean leak:p3?`, or nothing.
        meant: String,
        /// What can be asked.
        known: String,
    },
}

/// `leak:p3`; the kind alone where it has no place.
#[must_use]
pub fn cause_name(instrument: &Instrument, cause: Cause) -> String {
    let (kind, place) = (kind_word(cause), suspect(instrument, cause).place);
    place.map_or_else(|| kind.to_string(), |place| format!("{kind}:{place}"))
}

/// The top of the tube goes by the mouthpiece's name, so that it and the open end can be asked for apart.
fn kind_word(cause: Cause) -> &'static str {
    match cause {
        Cause::Hole(_) => Kind::Hole,
        Cause::Leak(_) => Kind::Leak,
        Cause::StuckShut(_) => Kind::Pad,
        Cause::Air => Kind::Air,
        Cause::Top => Kind::Mouthpiece,
        Cause::End => Kind::Length,
        Cause::Taper | Cause::BorePlace(_) => Kind::Bore,
        Cause::VentSize(_) | Cause::VentPlace(_) => Kind::Vent,
    }
    .as_str()
}

/// Finds what `written` means: a kind and a place with `:`, a space or nothing between, in any case.
///
/// # Errors
/// [`CauseNameError`] with everything that can be asked.
pub fn causes_called(instrument: &Instrument, written: &str) -> Result<Asked, CauseNameError> {
    let causes = causes_of(instrument);
    let asked = folded(written.trim());
    if asked == Kind::Healthy.as_str() {
        return Ok(Asked::Healthy);
    }
    let plain = |name: &str| folded(name).replace([':', ' '], "");
    let with = |fits: &dyn Fn(Cause) -> bool| -> Vec<Cause> {
        causes.iter().copied().filter(|cause| fits(*cause)).collect()
    };
    let named = with(&|cause| plain(&cause_name(instrument, cause)) == plain(&asked));
    // A finding calls a top that is too long by the word for both ends.
    let both_ends = with(&|cause| asked == Kind::Length.as_str() && matches!(cause, Cause::Top | Cause::End));
    let of_kind = with(&|cause| kind_word(cause) == asked);
    let at_place =
        with(&|cause| suspect(instrument, cause).place.is_some_and(|place| folded(&place) == asked));
    if !both_ends.is_empty() {
        return Ok(Asked::All(both_ends));
    }
    if !named.is_empty() {
        return Ok(Asked::All(named));
    }
    if !of_kind.is_empty() {
        return Ok(Asked::Heaviest(of_kind));
    }
    if !at_place.is_empty() {
        return Ok(Asked::All(at_place));
    }
    Err(refusal(instrument, &causes, written, &asked))
}

/// All that can be asked, places after their kind: `healthy, air, leak:NAME (h1, h2, post 4)`.
fn everything(instrument: &Instrument, causes: &[Cause]) -> String {
    let mut kinds: Vec<(&str, Vec<String>)> = vec![(Kind::Healthy.as_str(), Vec::new())];
    for &cause in causes {
        let (kind, place) = (kind_word(cause), suspect(instrument, cause).place);
        let known = kinds.iter().position(|(known, _)| *known == kind).unwrap_or_else(|| {
            kinds.push((kind, Vec::new()));
            kinds.len() - 1
        });
        let places = &mut kinds[known].1;
        places.extend(place.filter(|place| !places.contains(place)));
    }
    let told = |(kind, places): (&str, Vec<String>)| match places.is_empty() {
        true => kind.to_string(),
        false => format!("{kind}:NAME ({})", places.join(", ")),
    };
    kinds.into_iter().map(told).collect::<Vec<_>>().join(", ")
}

fn refusal(instrument: &Instrument, causes: &[Cause], written: &str, asked: &str) -> CauseNameError {
    let known = everything(instrument, causes);
    let mut names = vec![Kind::Healthy.as_str().to_string()];
    names.extend(causes.iter().map(|cause| cause_name(instrument, *cause)));
    let by_sound = [
        (Kind::Undertone, "an undertone"),
        (Kind::Player, "a wrong fingering"),
        (Kind::Recording, "a bad recording"),
    ];
    if let Some((_, kind)) = by_sound.into_iter().find(|(kind, _)| asked.starts_with(kind.as_str())) {
        return CauseNameError::NotByPitch { written: written.to_string(), kind, known };
    }
    let meant = nearest(asked, names.iter().map(String::as_str));
    CauseNameError::Unknown {
        written: written.to_string(),
        meant: meant.map_or_else(String::new, |name| format!(" Did you mean {name}?")),
        known,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::column::LeakPlace;
    use crate::instrument::file::parse;

    fn pipe() -> Instrument {
        parse(
            "format = 1\n[instrument]\nname = \"Pipe\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\n\
             chamber_ml = 12\n[[bore]]\nat_mm = 0\ndiameter_mm = 20\n[[bore]]\nat_mm = 900\ndiameter_mm = 20\n\
             [[hole]]\nname = \"h1\"\nat_mm = 600\ndiameter_mm = 9\nchimney_mm = 5\n\
             [[hole]]\nname = \"v\"\nat_mm = 200\ndiameter_mm = 2\nchimney_mm = 9\nvent = true\n\
             [[leak_site]]\nname = \"post 4\"\nat_mm = 500\nwall_mm = 4\n\
             [[fingering]]\nname = \"F2\"\nopen = []\n",
        )
        .unwrap()
    }

    #[test]
    fn a_cause_is_found_by_the_words_of_the_findings_however_they_are_written() {
        let pipe = pipe();
        let h1 = Asked::All(vec![Cause::Hole(0)]);
        for written in ["hole:h1", "hole h1", "HOLE:H1", " hole: h1 "] {
            assert_eq!(causes_called(&pipe, written).unwrap(), h1, "{written}");
        }
        assert_eq!(
            causes_called(&pipe, "leak post 4").unwrap(),
            Asked::All(vec![Cause::Leak(LeakPlace::Site(0))])
        );
        assert_eq!(causes_called(&pipe, "healthy").unwrap(), Asked::Healthy);
        assert_eq!(causes_called(&pipe, "length").unwrap(), Asked::All(vec![Cause::Top, Cause::End]));
        assert_eq!(causes_called(&pipe, "mouthpiece").unwrap(), Asked::All(vec![Cause::Top]));
        assert_eq!(
            causes_called(&pipe, "vent:v").unwrap(),
            Asked::All(vec![Cause::VentSize(1), Cause::VentPlace(1)])
        );
        assert!(matches!(causes_called(&pipe, "leak").unwrap(), Asked::Heaviest(all) if all.len() == 3));
        assert!(matches!(causes_called(&pipe, "h1").unwrap(), Asked::All(all) if all.len() == 3));
    }

    #[test]
    fn every_cause_is_found_by_its_own_name() {
        let pipe = pipe();
        for cause in causes_of(&pipe) {
            let name = cause_name(&pipe, cause);
            let found = causes_called(&pipe, &name).unwrap();
            assert!(matches!(&found, Asked::All(all) if all.contains(&cause)), "{name}: {found:?}");
        }
    }

    #[test]
    fn a_wrong_name_lists_what_can_be_asked_and_guesses_what_was_meant() {
        let told = causes_called(&pipe(), "leek:h1").unwrap_err().to_string();
        for part in
            ["leek:h1", "Did you mean leak:h1?", "healthy, ", "leak:NAME (h1, v, post 4)", "mouthpiece"]
        {
            assert!(told.contains(part), "{part}: {told}");
        }
        let told = causes_called(&pipe(), "undertone:F2").unwrap_err().to_string();
        assert!(told.contains("found by its sound"), "{told}");
    }
}
