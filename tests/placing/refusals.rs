//! What can't be placed is told in a sentence that says what to do.

use crate::bench::Bench;
use crate::bodies::second_body;

fn refuses(text: &str, arguments: &[&str], says: &[&str]) {
    let bench = Bench::with(text);
    bench.refuses(&[&["place", "instrument.toml"], arguments].concat(), 2, says);
}

#[test]
fn a_reach_shorter_than_the_holes_themselves_is_refused() {
    refuses(
        &second_body().text(),
        &["--reach", "h1", "h2", "5"],
        &["h1 and h2 can't lie within 5 mm", "Allow more reach"],
    );
}

#[test]
fn a_reach_between_two_kept_holes_that_lie_farther_apart_is_refused_with_the_reach_that_would_do() {
    let text = second_body().text();
    for kept in [&["--fixed", "h4,h6"][..], &["--keep-drilled"]] {
        let says =
            ["h6 and h4 are both kept, and lie 210 mm apart", "within 200 mm", "Allow that much reach"];
        refuses(&text, &[kept, &["--reach", "h6", "h4", "200"]].concat(), &says);
    }
    let bench = Bench::with(&text);
    let placed = |kept: &str, reach_mm: &str| {
        let reach = ["--reach", "h6", "h4", reach_mm];
        bench.json(
            &[&["place", "instrument.toml", "--json", "--keep-diameters", "--fixed", kept][..], &reach]
                .concat(),
        )
    };
    placed("h4,h6", "210");
    placed("h4", "200");
}

#[test]
fn limits_that_no_drill_fits_are_refused() {
    let few = second_body().text() + "[workshop]\ndrills_mm = [2.0, 6.0, 20.0]\n";
    refuses(&few, &["--smallest", "8"], &["none of your drills lies between 8 and", "--keep-diameters"]);
    refuses(
        &second_body().text(),
        &["--smallest", "15", "--widest", "9"],
        &["at least 15 mm and at most 9 mm"],
    );
}

#[test]
fn a_note_that_opens_more_but_is_wanted_lower_is_refused() {
    let swapped = second_body().text().replace("name = \"E2\"", "name = \"C#2\"");
    refuses(&swapped, &[], &["C#2 is to sound lower than D2", "(h7)", "Opening a hole never lowers a note"]);
}

#[test]
fn names_that_the_file_lacks_are_refused_with_the_nearest() {
    let text = second_body().text();
    refuses(&text, &["--fixed", "h9,v"], &["--fixed \"h9\"", "no hole of that name"]);
    refuses(&text, &["--reach", "h1", "hh2", "80"], &["Did you mean h2?"]);
    refuses(&text, &["--weight", "C3x", "2"], &["no fingering of that name"]);
}

#[test]
fn numbers_that_can_not_be_are_refused() {
    let text = second_body().text();
    refuses(&text, &["--reach", "h1", "h2", "wide"], &["--reach \"wide\"", "distance in mm"]);
    refuses(&text, &["--weight", "C2", "0"], &["--weight \"0\""]);
    refuses(&text, &["--smallest", "-3"], &["--smallest \"-3\"", "more than 0"]);
    refuses(&text, &["--size", "v", "-1"], &["--size \"-1\""]);
    refuses(&text, &["--pads", "12,nan"], &["--pads"]);
    refuses(&text, &["--room", "70"], &["--room 70"]);
}

#[test]
fn a_file_without_holes_or_fingerings_says_what_to_write() {
    let whole = second_body().text();
    let (before_holes, rest) = whole.split_once("[[hole]]").unwrap();
    let tube_only = format!("{before_holes}[[fingering]]\nname = \"C2\"\nopen = []\n");
    refuses(&tube_only, &[], &["no [[hole]] to place", "drilled = false"]);
    let (holes, _) = rest.split_once("[[fingering]]").unwrap();
    refuses(&format!("{before_holes}[[hole]]{holes}"), &[], &["no [[fingering]]"]);
}

#[test]
fn a_hole_that_only_a_fingering_names_is_told_where_to_be_written() {
    let text = second_body().text().replace("open = [\"h8\"]", "open = [\"h9\"]");
    let bench = Bench::with(&text);
    bench.refuses(&["place", "instrument.toml"], 1, &["there is no hole \"h9\"", "instrument.toml"]);
}

#[test]
fn a_note_that_no_place_gives_is_refused_with_what_to_check() {
    let high = second_body().text().replace("name = \"D3\"", "name = \"D7\"");
    refuses(&high, &[], &["h1 can't be placed for D7", "stays flat"]);
}

#[test]
fn a_hole_wider_than_the_bore_and_a_reach_from_a_hole_to_itself_are_refused() {
    refuses(
        &second_body().text(),
        &["--size", "h3", "90"],
        &["h3", "at most 21.6 mm (nine tenths of the bore)"],
    );
    refuses(&second_body().text(), &["--reach", "h1", "H1", "90"], &["h1 is named twice"]);
}

#[test]
fn when_everything_is_kept_there_is_nothing_to_place() {
    refuses(&second_body().text(), &["--keep-drilled", "--keep-end"], &["nothing to place"]);
}
