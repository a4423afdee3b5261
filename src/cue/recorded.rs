//! The leader's own recordings of cues: which cue one belongs to, and its samples as a file. Pure: no disk, no microphone.
//!
//! A recording is bound to the words that are said in it and not to a place in the session: moved, repeated, stretched or
//! cut, the cue keeps it, and one whose words were changed has none.

use crate::plan::{Cue, CuePiece, Plan};
use crate::time::Span;

/// Samples a second, everywhere in what is heard.
pub const RATE: u32 = 22_050;

/// No recording is longer: longer talk is no cue. 1.3 MB.
pub const LONGEST: Span = Span::from_seconds(30);

/// A file is no larger than this: the samples of [`LONGEST`] and room for what other programs put beside them.
pub const LARGEST_FILE: u64 = 2 * 22_050 * 30 + 4_096;

/// Under this share of full scale it is quiet: a hundredth (common practice, no source).
const QUIET: i16 = 327;

/// Loudness is judged in pieces of ten milliseconds.
const PIECE: usize = 220;

/// So many quiet pieces are left before the words and behind them.
const MARGIN: usize = 5;

/// A recording is made as loud as this, so that it stands up to the tones, but no noise is made louder than eightfold.
const LOUD: f64 = 0.7 * 32_767.0;
const MOST_GAIN: f64 = 8.0;

/// The words of a cue, with single spaces; nothing where figures are filled in, which no recording could follow.
pub fn words(cue: &Cue) -> Option<String> {
    let mut words = String::new();
    for piece in &cue.text {
        match piece {
            CuePiece::Text(text) => words.push_str(text),
            CuePiece::Field(_) => return None,
        }
    }
    Some(words.split_whitespace().collect::<Vec<_>>().join(" "))
}

/// What binds a recording to its words: FNV-1a of 64 bits over them, with single spaces (Fowler, Noll
/// and Vo). It need not withstand anybody who wants two texts to collide.
pub fn bound(words: &str) -> u64 {
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    words.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

/// The name of the file for a cue's words; the number only helps whoever looks into the folder.
pub fn file_name(number: usize, words: &str) -> String {
    format!("{number:02}-{:016x}.wav", bound(words))
}

/// What a file of this name is bound to; nothing where it is none of ours.
pub fn bound_of(file_name: &str) -> Option<u64> {
    let (_, bound) = file_name.strip_suffix(".wav")?.split_once('-')?;
    (bound.len() == 16)
        .then(|| u64::from_str_radix(bound, 16).ok())
        .flatten()
}

/// A cue of a session, as it is listed for whoever records.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recordable {
    /// Its number, from 1.
    pub number: usize,
    /// When it is first due, as the session was written.
    pub due: Span,
    /// How often it is said.
    pub times: usize,
    /// Who says it, where the session names somebody.
    pub speaker: Option<String>,
    /// What is said; figures that are filled in stand as they are filled in for the first time.
    pub says: String,
    /// Whether it can be recorded: figures that are filled in change.
    pub fixed: bool,
}

/// Every cue of a session once, in the order in which they are first due.
pub fn recordables(plan: &Plan) -> Vec<Recordable> {
    let mut all: Vec<Recordable> = Vec::new();
    let mut start = Span::ZERO;
    let rows = plan.timing();
    for (block, row) in plan.blocks.iter().zip(&rows) {
        for cue in &block.cues {
            let due = cue.due(block.length);
            if due >= block.length {
                continue;
            }
            let at = start + due;
            let own = words(cue);
            let filled = || {
                let timed = row.cues.iter().find(|timed| timed.at == at);
                timed.map_or_else(String::new, |timed| timed.says.clone())
            };
            let says = own.clone().unwrap_or_else(filled);
            match all.iter_mut().find(|known| known.says == says) {
                Some(known) => known.times += 1,
                None => all.push(Recordable {
                    number: 0,
                    due: at,
                    times: 1,
                    speaker: cue.speaker.clone(),
                    says,
                    fixed: own.is_some(),
                }),
            }
        }
        start += block.length;
    }
    all.sort_by_key(|one| one.due);
    for (number, one) in (1..).zip(&mut all) {
        one.number = number;
    }
    all
}

/// The recordings of these bindings whose words no cue of the session says any more.
pub fn outdated(plan: &Plan, known: &[u64]) -> usize {
    let said: Vec<u64> = recordables(plan)
        .iter()
        .filter(|one| one.fixed)
        .map(|one| bound(&one.says))
        .collect();
    known.iter().filter(|known| !said.contains(known)).count()
}

/// Samples without the silence before and behind, as loud as the tones; nothing where all is silence.
pub fn trimmed(samples: &[i16]) -> Option<Vec<i16>> {
    let loudest = |piece: &[i16]| piece.iter().map(|s| s.unsigned_abs()).max().unwrap_or(0);
    let pieces: Vec<u16> = samples.chunks(PIECE).map(loudest).collect();
    let loud = |level: &u16| *level > QUIET.unsigned_abs();
    let first = pieces.iter().position(loud)?.saturating_sub(MARGIN);
    let last = pieces.iter().rposition(loud)? + MARGIN + 1;
    let end = (last * PIECE).min(samples.len());
    let kept = samples.get(first * PIECE..end)?;
    let gain = (LOUD / f64::from(loudest(kept).max(1))).min(MOST_GAIN);
    Some(kept.iter().map(|&s| (f64::from(s) * gain) as i16).collect())
}

/// As a WAV file: one channel of 16 bits (Multimedia Programming Interface and Data Specifications 1.0, IBM and Microsoft,
/// 1991, "Waveform Audio File Format").
pub fn encode(samples: &[i16]) -> Vec<u8> {
    let data = u32::try_from(samples.len() * 2).unwrap_or(u32::MAX);
    let mut file = Vec::with_capacity(samples.len() * 2 + 44);
    file.extend(b"RIFF");
    file.extend((data.saturating_add(36)).to_le_bytes());
    file.extend(b"WAVEfmt ");
    file.extend(16u32.to_le_bytes());
    // PCM, one channel.
    file.extend(1u16.to_le_bytes());
    file.extend(1u16.to_le_bytes());
    file.extend(RATE.to_le_bytes());
    file.extend((RATE * 2).to_le_bytes());
    file.extend(2u16.to_le_bytes());
    file.extend(16u16.to_le_bytes());
    file.extend(b"data");
    file.extend(data.to_le_bytes());
    for sample in samples {
        file.extend(sample.to_le_bytes());
    }
    file
}

/// The samples of a WAV file. What is cut short has fewer samples; what is longer than [`LONGEST`] ends there.
///
/// # Errors
/// Why it cannot be played, in a few words.
pub fn decode(file: &[u8]) -> Result<Vec<i16>, &'static str> {
    let word = |at: usize| Some(u16::from_le_bytes(file.get(at..at + 2)?.try_into().ok()?));
    let long = |at: usize| Some(u32::from_le_bytes(file.get(at..at + 4)?.try_into().ok()?));
    if file.get(..4) != Some(b"RIFF") || file.get(8..12) != Some(b"WAVE") {
        return Err(entry!("it is no WAV file"));
    }
    let mut at = 12;
    let mut right = false;
    while let (Some(id), Some(length)) = (file.get(at..at + 4), long(at + 4)) {
        let (inside, length) = (at + 8, length as usize);
        match id {
            b"fmt " => {
                right = word(inside) == Some(1)
                    && word(inside + 2) == Some(1)
                    && long(inside + 4) == Some(RATE)
                    && word(inside + 14) == Some(16);
            }
            b"data" if right => {
                let end = inside.saturating_add(length).min(file.len());
                let most = RATE as usize * LONGEST.whole_seconds() as usize;
                let (pairs, _) = file[inside.min(end)..end].as_chunks::<2>();
                let samples: Vec<i16> = pairs
                    .iter()
                    .take(most)
                    .map(|&pair| i16::from_le_bytes(pair))
                    .collect();
                return if samples.is_empty() {
                    Err(entry!("there is nothing in it"))
                } else {
                    Ok(samples)
                };
            }
            b"data" => return Err(entry!("it is not one channel of 16 bits, 22,050 a second")),
            _ => {}
        }
        // Pieces begin at even places.
        at = inside.saturating_add(length).saturating_add(length % 2);
    }
    Err(entry!("it ends before its sound begins"))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::plan::read;

    #[test]
    fn words_are_bound_by_the_published_hash() {
        // Test vectors of FNV-1a, 64 bits, from its authors' own test program.
        for (text, hash) in [
            ("", 0xcbf2_9ce4_8422_2325),
            ("a", 0xaf63_dc4c_8601_ec8c),
            ("foobar", 0x8594_4171_f739_67e8),
        ] {
            assert_eq!(bound(text), hash);
        }
        assert_eq!(bound(" Up  to\nsix. "), bound("Up to six."));
        assert_ne!(bound("Up to six."), bound("Up to seven."));
        let name = file_name(7, "foobar");
        assert_eq!(name, "07-85944171f73967e8.wav");
        assert_eq!(bound_of(&name), Some(0x8594_4171_f739_67e8));
        for other in [
            "notes.wav",
            "07-85944171f73967e8.mp3",
            "7-+5944171f73967e.wav",
            "-.wav",
            "",
        ] {
            assert_eq!(bound_of(other), None, "{other}");
        }
    }

    #[test]
    fn a_cue_that_is_said_often_is_recorded_once_and_one_with_figures_never() {
        let text = r#"
format = 1
name = "T"
purpose = "p"
author = "a"
[[block]]
repeat = 3
[[block.block]]
kind = "hold"
time = "4:00"
effort = 6
cue = [
  { at = "0:30", kind = "do", speaker = "A", say = "Up  to six." },
  { before_end = "1:00", kind = "do", say = "{left} left." },
]
[[block]]
kind = "cool-down"
time = "3:00"
effort = 3
cue = [{ at = "0:10", kind = "feel", say = "Easy." }]
"#;
        let plan = read(text).plan.unwrap();
        let all = recordables(&plan);
        let told: Vec<_> = all
            .iter()
            .map(|one| {
                (
                    one.number,
                    one.due.whole_seconds(),
                    one.times,
                    one.says.as_str(),
                    one.fixed,
                )
            })
            .collect();
        assert_eq!(
            told,
            [
                (1, 30, 3, "Up to six.", true),
                (2, 180, 3, "1 minute left.", false),
                (3, 730, 1, "Easy.", true),
            ]
        );
        let known = [
            bound("Up to six."),
            bound("Easy now."),
            bound("1 minute left."),
        ];
        assert_eq!(outdated(&plan, &known), 2);
    }

    #[test]
    fn silence_goes_and_a_quiet_voice_is_as_loud_as_the_tones() {
        let mut samples = vec![3i16; 22_050];
        samples.extend([4_000, -4_000].repeat(2_205));
        samples.extend(vec![-5i16; 22_050]);
        let kept = trimmed(&samples).unwrap();
        // 0.2 s of sound and a twentieth of a second on each side, in pieces of a hundredth.
        assert!((6_600..=7_100).contains(&kept.len()), "{}", kept.len());
        let loudest = kept.iter().map(|s| s.unsigned_abs()).max().unwrap();
        // 0.7 of 32,767.
        assert!((22_900..=22_937).contains(&loudest), "{loudest}");
        assert_eq!(trimmed(&vec![20i16; 22_050]), None);
        assert_eq!(trimmed(&[]), None);
        // Nothing is made louder than eightfold.
        let faint = trimmed(&[500i16; 440]).unwrap();
        assert!(faint.iter().all(|&s| s == 4_000));
    }

    #[test]
    fn a_file_reads_back_and_a_strange_one_is_refused_in_words() {
        let samples = [0i16, 1, -1, i16::MAX, i16::MIN];
        let file = encode(&samples);
        assert_eq!(decode(&file).unwrap(), samples);
        assert_eq!(&file[..4], b"RIFF");
        assert_eq!(file.len(), 54);
        // Cut short anywhere, it never panics.
        for end in 0..file.len() {
            drop(decode(&file[..end]));
        }
        assert_eq!(decode(&file[..48]).unwrap(), [0, 1]);
        // Another piece before the samples, of an odd length, is passed over.
        let mut more = file[..36].to_vec();
        more.extend(b"LIST\x03\0\0\0abc\0");
        more.extend(&file[36..]);
        assert_eq!(decode(&more).unwrap(), samples);
        // Two channels.
        let mut two = file.clone();
        two[22] = 2;
        assert!(decode(&two).unwrap_err().contains("one channel"));
        assert!(decode(b"ID3").unwrap_err().contains("no WAV"));
        assert!(decode(&encode(&[])).unwrap_err().contains("nothing"));
        // A length that leads past the end of all numbers.
        let mut long = file;
        long[40..44].copy_from_slice(&u32::MAX.to_le_bytes());
        assert_eq!(decode(&long).unwrap(), samples);
    }
}
