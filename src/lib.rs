//! borescribe: measures recorded fingerings of a one-off woodwind, compares them with the pitch
//! that the measured geometry predicts, and says what to do next at the bench.
//!
//! The rooms of the house, from the ground up. Arrows point down only; `tests/architecture.rs`
//! fails when an import points up or a third-party crate leaves its room.
//!
//! | room | what it is for | what it must not know |
//! |---|---|---|
//! | [`units`] | notes, hertz and cents | everything else |
//! | [`air`] | the air inside the instrument | everything but numbers |
//! | [`acoustics`] | the air column: impedance, resonances | files, names of fingerings, audio |
//! | [`instrument`] | the maker's file, made into air columns | audio, findings |
//! | [`placing`] | where the holes of a planned body go | recordings, files, the terminal |
//! | [`audio`] | samples from recordings | instruments: a recording has no opinion |
//! | [`analysis`] | pitch, partials, undertones of one take | the instrument: it measures blind |
//! | [`book`] | the bench book: steps, takes, the log | findings: it stores no conclusions |
//! | [`diagnosis`] | why a note is off, and what to do next | samples, files, the terminal |
//! | [`report`] | findings as text, JSON and charts | how anything was computed |
//! | [`cli`] | the commands; alone prints, exits and reads the clock | – |
#![deny(missing_docs)]
#![cfg_attr(
    not(test),
    deny(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::todo,
        clippy::unimplemented,
        clippy::exit
    )
)]
#![deny(clippy::print_stdout, clippy::print_stderr, clippy::dbg_macro)]

pub mod air;
pub mod units;

/// The air column: what a tube with holes does to sound. SI units throughout.
/// Must not know files, names of fingerings, audio, or what note is wanted.
pub mod acoustics {
    pub mod blown;
    pub mod circuit;
    pub mod column;
    pub mod hole;
    pub mod leak;
    pub mod line;
    pub mod radiation;
    pub mod resonance;
    mod scan;
    pub mod shear;
    mod zero;
}

/// The maker's instrument file and the air columns that it describes.
/// Knows the file format and the acoustics; knows neither recordings nor findings.
pub mod instrument {
    pub mod advice;
    pub mod alter;
    pub mod bench_limits;
    pub mod change;
    mod check;
    mod check_names;
    pub mod column;
    pub mod counts;
    pub mod difference;
    pub mod drill_series;
    pub mod drilling;
    mod entries;
    pub mod file;
    pub mod forecast;
    mod keys;
    pub mod lattice;
    mod marks;
    pub mod model;
    pub mod note_text;
    pub mod prediction;
    pub mod problem;
    mod quantity_text;
    mod reader;
    pub mod remeasured;
    pub mod sanity;
    pub mod save;
    mod section_fingering;
    mod section_goal;
    mod section_hole;
    mod section_key;
    mod section_mouthpiece;
    mod sections;
    pub mod sensitivity;
    mod slips;
    pub(crate) mod spelling;
    pub mod stand_in;
    mod suspects;
    mod syntax;
    pub mod take_names;
    pub mod template;
    pub mod trial;
    pub mod twelfth;
    pub mod vent;
    pub mod work;
}

/// Where the holes of a planned body go so that its fingerings meet their targets.
/// Must not know recordings, files or the terminal.
pub mod placing {
    pub mod compromise;
    pub mod error;
    pub mod first_drill;
    mod first_guess;
    mod fit;
    mod key_match;
    pub mod keys;
    pub mod limits;
    pub mod place;
    pub mod scale;
    mod scatter;
    pub mod second_vent;
    mod set_apart;
    mod slopes;
    mod solve;
    mod task;
    mod tuning;
    mod unmet;
    mod vent_scan;
    pub mod vents;
    mod wishes;
}

/// Samples out of recordings. A recording has no opinion: nothing here knows an instrument.
pub mod audio {
    mod aiff;
    mod blocks;
    mod caf;
    pub mod capture;
    mod chunks;
    pub mod decode;
    pub mod encode;
    pub mod extract;
    mod flac;
    mod kept;
    pub mod loudness;
    pub mod made;
    mod mp3;
    mod mp4;
    mod named;
    mod packets;
    mod pieces;
    mod refuse;
    mod riff;
    // The one place that chooses: recording is always in, except on Linux and BSD without `live`.
    #[cfg_attr(
        all(
            not(feature = "live"),
            any(target_os = "linux", target_os = "dragonfly", target_os = "freebsd", target_os = "netbsd")
        ),
        path = "no_sound_card.rs"
    )]
    pub mod sound_card;
    mod source;
    pub mod spool;
    pub mod take;
    pub mod wav_head;
}

/// What one take sounds like: steady part, pitch, partials, undertones, troubles.
/// Blind to the instrument, or it would find what it expects.
pub mod analysis {
    mod background;
    pub mod band;
    mod choice;
    mod clipping;
    mod comb;
    mod evidence;
    pub mod excerpt;
    pub mod held;
    mod hum;
    mod level;
    pub mod live;
    pub mod measure;
    pub mod measurement;
    mod movement;
    mod orders;
    mod peaks;
    pub mod portrait;
    mod quality;
    pub mod room;
    mod smooth;
    mod spectrum;
    pub mod split;
    mod standing;
    mod steady;
    mod tone;
    mod track;
    mod turning;
    mod undertones;
    mod voices;
}

/// The bench book: geometry and measurements of every step, as plain files. Stores no conclusions.
/// Must not know findings, reports, sound or the terminal.
pub mod book {
    pub mod disk;
    pub mod error;
    pub mod folder;
    pub mod found;
    pub mod healing;
    pub mod history;
    mod keys;
    pub mod lock;
    pub mod log;
    pub mod moment;
    mod names;
    pub mod note;
    pub mod played;
    pub mod prototype;
    pub mod remeasured;
    pub mod rows;
    pub mod step;
    pub mod table;
    pub mod take_folder;
    pub mod take_lists;
    pub mod test;
    pub mod tested;
    pub mod version;
}

/// Why a note is off and what to do next: measured takes against the geometry's prediction.
/// Must not know samples, files or the terminal.
pub mod diagnosis {
    /// What every take is worth, and what the takes of a fingering say together.
    pub mod takes {
        pub mod alignment;
        mod alignment_path;
        mod chances;
        pub mod condition;
        pub mod evening;
        pub mod evidence;
        mod judge;
    }
    /// How far measured and predicted may differ while nothing is wrong.
    pub mod expectation {
        pub mod blowing;
        pub mod gaussian;
        pub mod noise;
        pub mod speaking;
    }
    /// What may be wrong, and what each cause would do to every note.
    pub mod causes {
        pub mod bore_places;
        pub mod catalogue;
        pub mod effect;
    }
    /// How well each cause explains the takes.
    pub mod weigh {
        mod abreast;
        pub mod explain;
        pub mod learned;
        pub(super) mod lists;
        pub mod own;
        pub mod posterior;
        mod slips;
    }
    /// Findings: the causes ranked, each with what looks the same.
    pub mod findings {
        pub mod cause_names;
        pub mod one_cause;
        pub mod ranking;
        pub mod seen;
        pub mod telling_note;
        pub mod undertone;
    }
    /// What can be done to the instrument, and what it does to every note.
    pub mod work {
        pub mod adjust;
        pub mod aim;
        mod chimney_cuts;
        pub mod cuts;
        pub mod drills;
        mod end_cuts;
        mod hole_cuts;
        pub mod plain_tube;
    }
    /// The one thing to do now.
    pub mod decide {
        pub mod action;
        pub mod asked;
        pub mod bench_tests;
        pub mod next;
        pub(super) mod planned;
        pub mod prospect;
        mod random;
        pub mod remedy;
    }
    pub mod beliefs;
    pub mod check;
    mod note_check;
    pub mod words;
}

/// Findings and predictions as text, tables, JSON and charts. Computes nothing.
pub mod report {
    pub mod account;
    pub mod alignment;
    pub mod cautions;
    pub mod chart;
    pub mod check_json;
    pub mod check_text;
    mod check_words;
    pub mod figure;
    pub mod history;
    pub mod history_text;
    mod history_words;
    pub mod layout;
    pub mod learned;
    mod lettering;
    pub mod live;
    pub mod measure;
    pub mod measure_csv;
    pub mod note_table;
    /// The check as one page to look at.
    pub mod page {
        mod drawing;
        mod flags;
        mod foot;
        pub mod history;
        pub(super) mod html;
        mod note_chart;
        mod notes;
        pub mod plots;
        pub mod sheet;
        mod style;
        pub mod takes;
        mod undertones;
        mod why;
        mod work;
    }
    pub mod place;
    mod place_words;
    pub mod predict;
    pub mod printable;
    pub mod questions;
    pub mod record;
    pub mod step_facts;
    pub mod strip;
    pub mod take_chart;
    pub mod test_words;
    /// The only place where sentences for the maker are to be made; `diagnosis` has some of its own yet.
    pub mod words {
        pub mod cut;
        pub mod next;
    }
    pub mod trial;
}

/// The commands: alone print, exit and read the clock.
pub mod cli {
    pub mod args;
    pub mod bench_book;
    pub mod book_args;
    pub mod book_check;
    pub mod check;
    pub mod clock;
    mod conditions;
    mod copied;
    pub mod demo;
    pub mod failure;
    pub mod history;
    mod learned;
    pub mod listen;
    pub mod live_line;
    pub mod live_source;
    mod long_work;
    pub mod measure;
    pub mod new;
    pub mod order;
    pub mod output;
    mod page;
    pub mod place;
    pub mod place_args;
    pub mod played;
    pub mod record;
    pub mod recording;
    pub mod run;
    pub mod samples;
    pub mod sequence;
    pub mod set_aside;
    pub mod step;
    mod step_facts;
    mod step_work;
    mod take_sheets;
    pub mod take_store;
    pub mod takes;
    mod test_takes;
    mod threads;
    pub mod trial;
}
