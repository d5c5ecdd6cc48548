//! Headings that are not quite right, or not of the usual kind, written byte by byte: what is behind them is read.

use tempfile::TempDir;

use crate::{Kind, codes, measured, note, wav, written};

const RATE_HZ: u32 = 8_000;

/// A WAV with the size of its chunk `data` and of the whole file off by so much.
fn off_by(data: i32, riff: i32) -> Vec<u8> {
    let mut bytes = wav(Kind::Signed(16), 1, RATE_HZ, &note(110.0, RATE_HZ, 1.0), false, None);
    for (at, by) in [(40, data), (4, riff)] {
        let size = u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
        bytes[at..at + 4].copy_from_slice(&size.wrapping_add_signed(by).to_le_bytes());
    }
    bytes
}

/// A WAV of so many bits a sample, in the next whole bytes, the bits that don't count at the bottom.
fn of_bits(bits: u16) -> Vec<u8> {
    let container = bits.next_multiple_of(8);
    let unused = 2f64.powi(i32::from(bits) - 1);
    let samples: Vec<f64> =
        note(110.0, RATE_HZ, 1.0).iter().map(|sample| (sample * unused).floor() / unused).collect();
    let mut bytes = wav(Kind::Signed(container), 1, RATE_HZ, &samples, false, None);
    bytes[34..36].copy_from_slice(&bits.to_le_bytes());
    bytes
}

fn extended_rate() -> [u8; 10] {
    [0x40, 0x0b, 0xfa, 0, 0, 0, 0, 0, 0, 0]
}

/// An AIFF of `bits` a sample.
fn aiff(bits: u16) -> Vec<u8> {
    let bytes = usize::from(bits.div_ceil(8));
    let sound: Vec<u8> = note(110.0, RATE_HZ, 1.0)
        .iter()
        .flat_map(|sample| ((sample * 2_147_483_647.0) as i32).to_be_bytes()[..bytes].to_vec())
        .collect();
    let mut common = 1_u16.to_be_bytes().to_vec();
    common.extend(RATE_HZ.to_be_bytes());
    common.extend(bits.to_be_bytes());
    common.extend(extended_rate());
    let chunk = |id: &[u8; 4], body: &[u8]| [id, &(body.len() as u32).to_be_bytes()[..], body].concat();
    let body = [b"AIFF".to_vec(), chunk(b"COMM", &common), chunk(b"SSND", &[&[0; 8], &sound[..]].concat())];
    chunk(b"FORM", &body.concat())
}

/// A CAF of whole numbers of 16 bits.
fn caf() -> Vec<u8> {
    let sound: Vec<u8> = note(110.0, RATE_HZ, 1.0)
        .iter()
        .flat_map(|sample| ((sample * 32_767.0) as i16).to_be_bytes())
        .collect();
    let mut bytes = b"caff\0\x01\0\0desc".to_vec();
    bytes.extend(32_u64.to_be_bytes());
    bytes.extend(f64::from(RATE_HZ).to_be_bytes());
    bytes.extend(b"lpcm");
    for number in [0_u32, 2, 1, 1, 16] {
        bytes.extend(number.to_be_bytes());
    }
    bytes.extend(b"data");
    bytes.extend((sound.len() as u64 + 4).to_be_bytes());
    bytes.extend([0; 4]);
    bytes.extend(sound);
    bytes
}

fn short_by_one(mut bytes: Vec<u8>) -> Vec<u8> {
    bytes.pop();
    bytes
}

fn many_channels(channels: u16) -> Vec<u8> {
    let samples: Vec<f64> =
        note(110.0, RATE_HZ, 1.0).iter().flat_map(|sample| vec![*sample; usize::from(channels)]).collect();
    wav(Kind::Signed(24), channels, RATE_HZ, &samples, false, None)
}

#[test]
fn headings_that_are_not_quite_right_hide_no_sound() {
    let folder = TempDir::new().unwrap();
    let cases = [
        ("data-one-too-large.wav", off_by(1, 0), false),
        ("riff-one-too-large.wav", off_by(0, 1), false),
        ("riff-too-small.wav", off_by(0, -1000), false),
        ("riff-nought.wav", off_by(0, i32::MIN), false),
        ("data-larger.wav", off_by(2, 0), true),
        ("twelve-bits.wav", of_bits(12), false),
        ("twenty-bits.wav", of_bits(20), false),
        ("thirty-two-channels.wav", many_channels(32), false),
        ("a-hundred-channels.wav", many_channels(100), false),
        ("twelve-bits.aiff", aiff(12), false),
        ("twenty-bits.aiff", aiff(20), false),
        ("one-byte-short.aiff", short_by_one(aiff(16)), true),
        ("one-byte-short.caf", short_by_one(caf()), true),
        ("whole.caf", caf(), false),
    ];
    let files: Vec<_> = cases.iter().map(|(name, bytes, _)| written(&folder, name, bytes)).collect();
    let (code, takes) = measured(&files);
    assert_eq!(code, 0);
    for ((name, _, is_cut), take) in cases.iter().zip(&takes) {
        let hz = take["pitch_hz"].as_f64().unwrap_or_else(|| panic!("{name}: {take}"));
        assert!((hz - 110.0).abs() < 0.02, "{name}: {hz} Hz");
        let told = take["troubles"].to_string();
        assert_eq!(told.contains("ends early"), *is_cut, "{name}: {told}");
    }
}

#[test]
fn what_no_decoder_knows_is_named() {
    let folder = TempDir::new().unwrap();
    let mut wide = off_by(0, 0);
    wide[32..36].copy_from_slice(&[8, 0, 64, 0]);
    let mut foreign = off_by(0, 0);
    foreign[20..22].copy_from_slice(&0x1234_u16.to_le_bytes());
    let mut no_format = off_by(0, 0);
    no_format[12..16].copy_from_slice(b"junk");
    let cases = [
        ("wide.wav", wide, "64 bits a sample"),
        ("foreign.wav", foreign, "coding 0x1234"),
        ("no-format.wav", no_format, "its heading is damaged"),
    ];
    let files: Vec<_> = cases.iter().map(|(name, bytes, _)| written(&folder, name, bytes)).collect();
    let (code, takes) = measured(&files);
    assert_eq!(code, 1);
    for ((name, _, words), take) in cases.iter().zip(&takes) {
        assert_eq!(codes(take), ["unreadable"], "{name}: {take}");
        let text = take["troubles"][0]["text"].as_str().unwrap();
        assert!(text.contains(words) && text.contains("ffmpeg -i in.file out.flac"), "{name}: {text}");
    }
}

#[test]
fn one_sample_that_is_no_number_is_one() {
    let folder = TempDir::new().unwrap();
    let mut samples = note(110.0, RATE_HZ, 1.0);
    samples[100] = f64::NAN;
    let path = written(&folder, "one.wav", &wav(Kind::Float(32), 1, RATE_HZ, &samples, false, None));
    let told = measured(&[path]).1[0]["troubles"].to_string();
    assert!(told.contains("one sample is no number and was taken as silence"), "{told}");
}
