//! Small files of keys (the note of a bench step, of a test), edited in place: what the maker wrote besides stays.
//!
//! Must not know what the keys mean.

use toml_edit::{Array, DocumentMut, Item, Value};

use super::file::Plain;
use super::save::{SaveError, as_number, as_typed, editable, replace};

/// The text with these entries in it. Other keys, comments and the order of lines stay; so does a value that already
/// says the same. A list that only grew keeps what was in it as it was typed.
///
/// # Errors
/// [`SaveError::Impossible`] when the text is no TOML.
pub fn with_entries(text: &str, entries: &[(&str, Plain)]) -> Result<String, SaveError> {
    let mut document = editable(text, "Put the file right by hand first.")?;
    for (key, wanted) in entries {
        match wanted {
            Plain::Text(text) => {
                if document.get(key).and_then(Item::as_str) != Some(text.as_str()) {
                    replace(document.as_table_mut(), key, text.as_str().into());
                }
            }
            Plain::Number(number) => {
                let old = document.get(key).and_then(Item::as_value).and_then(as_number);
                if old != Some(*number) {
                    replace(document.as_table_mut(), key, (*number).into());
                }
            }
            Plain::Texts(texts) => set_texts(&mut document, key, texts),
            Plain::Other => {}
        }
    }
    Ok(as_typed(document.to_string(), text))
}

fn set_texts(document: &mut DocumentMut, key: &str, texts: &[String]) {
    let old = document.get_mut(key).and_then(Item::as_array_mut);
    let Some(list) = old else {
        let list: Array = texts.iter().map(String::as_str).collect();
        replace(document.as_table_mut(), key, list.into());
        return;
    };
    let had: Vec<Option<&str>> = list.iter().map(Value::as_str).collect();
    let stays =
        had.len() <= texts.len() && had.iter().zip(texts).all(|(old, new)| *old == Some(new.as_str()));
    let kept = if stays { had.len() } else { 0 };
    if !stays {
        list.clear();
    }
    texts.iter().skip(kept).for_each(|text| list.push(text.as_str()));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_maker_wrote_stays_and_only_the_named_keys_change() {
        let text = "# head\nroom_c = 18.5 # cold\nfound = [\n  \"v:leaks\", # heard it\n]\n\n[weather]\nrain = true # all day\n";
        let list = Plain::Texts(vec!["v:leaks".into(), "D2:hissy".into()]);
        let changed =
            with_entries(text, &[("room_c", Plain::Number(21.0)), ("found", list.clone())]).unwrap();
        for kept in
            ["# head\n", "room_c = 21.0 # cold\n", "# heard it\n", "[weather]\nrain = true # all day\n"]
        {
            assert!(changed.contains(kept), "{kept:?} is not in {changed}");
        }
        let has = |text: &str, key: &str, value: &Plain| {
            let entries = super::super::file::plain_entries(text).unwrap();
            entries.iter().any(|entry| entry.key == key && entry.value == *value)
        };
        assert!(has(&changed, "found", &list), "{changed}");
        // A single text becomes a list, and keeps its comment.
        let single = with_entries("found = \"v:leaks\" # heard it\n", &[("found", list)]).unwrap();
        assert_eq!(single, "found = [\"v:leaks\", \"D2:hissy\"] # heard it\n");
        // A new key goes before the maker's tables, where it means something.
        let added = with_entries(text, &[("reed", Plain::Text("a \"b\" \\".into()))]).unwrap();
        assert!(has(&added, "reed", &Plain::Text("a \"b\" \\".into())), "{added}");
    }

    #[test]
    fn what_says_the_same_stays_as_it_was_typed() {
        let text = "\u{feff}room_c = 19 # °C\r\nwhat = 'x'\r\n";
        let same = [("room_c", Plain::Number(19.0)), ("what", Plain::Text("x".into()))];
        assert_eq!(with_entries(text, &same).unwrap(), text);
        assert!(with_entries("no toml", &same).is_err());
    }
}
