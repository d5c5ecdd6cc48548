//! Instrument files whose every number lies within or at the limits of its key, however odd together: most
//! are valid. Bytes choose the numbers. Shared with the fuzz targets.

use std::fmt::Write;

/// Choices out of the bytes; zeros when they run out.
pub struct Dice<'b>(pub &'b [u8]);

impl Dice<'_> {
    fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.0.split_first() else { return 0 };
        self.0 = rest;
        *first
    }

    fn chance(&mut self, of_256: u8) -> bool {
        self.byte() < of_256
    }

    /// A number between two limits: one of them, near one of them, or in between.
    fn number(&mut self, least: f64, most: f64) -> f64 {
        let fine = f64::from(u16::from_le_bytes([self.byte(), self.byte()])) / 65_535.0;
        match self.byte() % 16 {
            0 => least,
            1 => most,
            2 => least + (most - least) * 1e-9 * fine,
            3 => least + (most - least) * 1e-4 * fine,
            4 => least + (most - least) * fine.powi(4),
            5 => most - (most - least) * 1e-4 * fine,
            _ => least + (most - least) * fine,
        }
    }
}

/// The text of an instrument file.
pub fn file(dice: &mut Dice<'_>) -> String {
    let mut text = String::from("format = 1\n[instrument]\nname = \"x\"\nprototype = \"P1\"\n");
    let jet = dice.chance(64);
    let _ = writeln!(text, "drive = \"{}\"", if jet { "air-jet" } else { "reed" });
    let _ = writeln!(text, "[wall]\nthickness_mm = {:?}", dice.number(1e-6, 200.0));
    let finish = ["smooth", "oiled wood", "raw wood"][usize::from(dice.byte() % 3)];
    let _ = writeln!(text, "finish = \"{finish}\"");
    let (celsius, humidity) = (dice.number(-10.0, 45.0), dice.number(0.0, 100.0));
    let _ = writeln!(text, "[air]\ntemperature_c = {celsius:?}\nhumidity_percent = {humidity:?}");
    let _ = writeln!(text, "[mouthpiece]");
    if jet {
        let _ = writeln!(text, "embouchure_mm = {:?}", dice.number(0.0, 2000.0));
    } else {
        let _ = writeln!(text, "chamber_ml = {:?}", dice.number(0.0, 1000.0));
        if dice.chance(128) {
            let _ = writeln!(text, "reed_ml = {:?}", dice.number(0.0, 200.0));
        }
    }
    let ordinary = dice.chance(128);
    let (length, widest) = if ordinary { (3000.0, 60.0) } else { (20_000.0, 500.0) };
    let mut places: Vec<f64> = (0..dice.byte() % 5).map(|_| dice.number(0.0, length)).collect();
    places.extend([0.0, dice.number(0.0, length)]);
    places.sort_by(f64::total_cmp);
    let mut narrowest = widest;
    for at in &places {
        for _ in 0..1 + usize::from(dice.chance(40) && *at > 0.0) {
            let diameter = dice.number(1.0, widest);
            narrowest = f64::min(narrowest, diameter);
            let _ = writeln!(text, "[[bore]]\nat_mm = {at:?}\ndiameter_mm = {diameter:?}");
        }
    }
    let end = places.last().copied().unwrap_or(length);
    let holes = usize::from(dice.byte() % 7);
    for hole in 0..holes {
        let at = dice.number(0.05, end - 0.05);
        let diameter = dice.number(0.1, narrowest.min(2.0 * at).min(2.0 * (end - at)));
        let undercut = dice.number(0.0, narrowest - diameter);
        let _ = writeln!(text, "[[hole]]\nname = \"h{hole}\"\nat_mm = {at:?}\ndiameter_mm = {diameter:?}");
        let _ = writeln!(text, "chimney_mm = {:?}", dice.number(0.0, 500.0));
        if dice.chance(128) {
            let _ = writeln!(text, "pad_diameter_mm = {:?}", dice.number(diameter, 600.0));
            let _ = writeln!(text, "pad_lift_mm = {:?}", dice.number(1e-6, 200.0));
        }
        let _ = writeln!(text, "rim_mm = {:?}\nvent = {}", dice.number(0.0, 100.0), dice.chance(60));
        let _ = writeln!(text, "undercut_mm = {undercut:?}\ndrilled = {}", !dice.chance(40));
    }
    if dice.chance(80) {
        let (at, wall) = (dice.number(0.0, end), dice.number(1e-6, 200.0));
        let _ = writeln!(text, "[[leak_site]]\nname = \"post\"\nat_mm = {at:?}\nwall_mm = {wall:?}");
    }
    for _ in 0..dice.byte() % 3 {
        let (at, angle) = (dice.number(0.0, end), dice.number(1e-6, 360.0));
        let largest = 2.0 * at.min(end - at) / angle.to_radians();
        let least = 0.5 * widest;
        let radius =
            if largest > least && dice.chance(180) { dice.number(least, largest.min(2000.0)) } else { 0.0 };
        let _ = writeln!(text, "[[bend]]\nat_mm = {at:?}\nradius_mm = {radius:?}\nangle_deg = {angle:?}");
    }
    for fingering in 0..2 {
        let mask = dice.byte();
        let open: Vec<String> =
            (0..holes).filter(|hole| mask >> hole & 1 == 1).map(|hole| format!("\"h{hole}\"")).collect();
        let register = 1 + dice.byte() % 12;
        let _ = writeln!(text, "[[fingering]]\nname = \"f{fingering}\"\nnote = \"C3\"");
        let _ = writeln!(text, "open = [{}]\nregister = {register}", open.join(", "));
    }
    text
}
