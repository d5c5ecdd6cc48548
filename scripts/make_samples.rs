//! Makes the recordings in `samples/`: `cargo run --release --example make_samples`.
//!
//! They are simulated. Pitches come from the air column of this library; players, reeds, microphone and room
//! are invented, as told one by one at the head of `simulated_takes.rs`. Never quote accuracy from them. The
//! instrument files beside them are written by hand, and only read here. Run it again after every change of
//! the air column or of a sample's instrument file: a test compares.

mod simulated_takes;

use std::error::Error;
use std::path::Path;

use borescribe::audio::encode::{Depth, write_wav};
use borescribe::instrument::file::load;
use simulated_takes::{RATE_HZ, STEPS, take};

fn main() -> Result<(), Box<dyn Error>> {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/bittern/P2");
    for step in &STEPS {
        let folder = samples.join(step.folder);
        let instrument = load(&folder.join("instrument.toml"))?;
        let takes = folder.join("takes");
        std::fs::create_dir_all(&takes)?;
        for (index, fingering) in instrument.fingerings.iter().enumerate() {
            let path = takes.join(format!("{}.wav", fingering.name));
            write_wav(&path, &take(step, &instrument, index), RATE_HZ, Depth::Bits16)?;
        }
        println!("{}: {} takes", folder.display(), instrument.fingerings.len());
    }
    Ok(())
}
