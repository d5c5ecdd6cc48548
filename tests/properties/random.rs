//! Random columns: straight and tapered bores with open and closed holes, vents, leaks and bends. The same
//! seed gives the same column on every machine.

use std::f64::consts::PI;

use borescribe::acoustics::column::{Column, Piece, Top};
use borescribe::acoustics::hole::{Cover, Rim, ToneHole};
use borescribe::acoustics::radiation::OpenEnd;
use borescribe::air::Air;

/// Random numbers by a linear congruence (D. E. Knuth's multiplier, from memory): good enough to vary
/// geometry.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(1));
        (0..4).for_each(|_| _ = dice.between(0.0, 1.0));
        dice
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn chance(&mut self, share: f64) -> bool {
        self.between(0.0, 1.0) < share
    }
}

/// A bore of 7 to 22 mm radius at the top, 0.4 to 3 m long, with up to twelve holes, a vent and leaks.
pub fn random_column(seed: u64) -> Column {
    let mut dice = Dice::new(seed);
    let top = dice.between(7e-3, 22e-3);
    let bottom = if dice.chance(0.5) { top } else { top * dice.between(0.8, 1.6) };
    let length = dice.between(0.4, 3.0);
    let jet = dice.chance(0.25);
    let mut column = Column {
        pieces: Vec::new(),
        end_radius: bottom,
        end: OpenEnd::ThickWall { outer_radius: bottom + 3e-3 },
        air: Air::keefe(dice.between(15.0, 30.0)),
        loss_factor: dice.between(1.0, 1.4),
        top_radius: top,
        top: if jet {
            Top::AirJet { end_length: dice.between(0.01, 0.06) }
        } else {
            Top::Reed { give_volume: dice.between(0.0, 3e-6) }
        },
    };
    let count = dice.between(0.0, 14.0) as usize;
    let mut places: Vec<f64> = (0..count).map(|_| dice.between(0.05, 0.97)).collect();
    places.sort_by(f64::total_cmp);
    let radius_at = |share: f64| top + (bottom - top) * share;
    let mut at = 0.0;
    for place in places {
        column.push_bore(radius_at(at), radius_at(place), length * (place - at), None);
        at = place;
        let kind = dice.between(0.0, 1.0);
        column.pieces.push(if kind < 0.25 {
            Piece::Leak { radius: dice.between(0.1e-3, 1.2e-3), length: 3e-3 }
        } else {
            let bore_radius = radius_at(place);
            let vent = kind < 0.4;
            let radius = if vent { dice.between(0.5e-3, 2e-3) } else { bore_radius * dice.between(0.2, 0.9) };
            let cover = match dice.between(0.0, 3.0) as u32 {
                0 => Cover::Open,
                1 => Cover::HangingPad { pad_radius: radius + 3e-3, lift: radius * dice.between(0.2, 1.0) },
                _ => Cover::Closed,
            };
            Piece::Hole(ToneHole {
                bore_radius,
                radius,
                inner_radius: radius,
                chimney: dice.between(3e-3, 12e-3),
                rim: Rim::Free { wall: 1.5e-3 },
                cover: if vent { Cover::Open } else { cover },
            })
        });
    }
    column.push_bore(radius_at(at), radius_at(1.0), length * (1.0 - at), None);
    column
}

/// A frequency of the fourth mode or so of a bare tube of this length.
pub fn fourth_mode_hz(column: &Column) -> f64 {
    2.0 * column.air.speed / column.length() * (1.0 - 1.0 / PI)
}
