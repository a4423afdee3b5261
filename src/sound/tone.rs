//! The tones, made from sines: short, and told apart by how many notes they have and whether these rise or fall.

use std::f64::consts::TAU;
use std::sync::Arc;

use crate::cue::Tone;
use crate::time::Span;

/// Samples a second, everywhere: those of the voice and of the recordings, so that nothing is converted.
pub const RATE: u32 = crate::cue::recorded::RATE;

/// How loud a note is, of full scale.
const LOUDNESS: f64 = 0.4;

/// A note swells and fades over so much, or it would crack.
const EDGE_S: f64 = 0.006;

/// One note: hertz, when it begins in the tone, and how long it lasts, milliseconds.
type Note = (f64, u64, u64);

/// The notes of a tone. The beat of work rises by a fifth and that of ease falls by one; the countdown is one pitch, so
/// often as there are thirties of seconds to go, and three short ones for the last ten.
pub const fn notes(tone: Tone) -> &'static [Note] {
    match tone {
        Tone::Minute => &[(587.0, 0, 110), (587.0, 150, 110)],
        Tone::Thirty => &[(587.0, 0, 200)],
        Tone::Ten => &[(784.0, 0, 60), (784.0, 110, 60), (784.0, 220, 60)],
        Tone::Tick => &[(1046.0, 0, 60)],
        Tone::Go => &[(880.0, 0, 120), (1320.0, 120, 200)],
        Tone::Ease => &[(660.0, 0, 120), (440.0, 120, 200)],
        Tone::Pulse => &[(1568.0, 0, 20)],
    }
}

/// A tone's samples, one channel.
pub fn samples(tone: Tone) -> Arc<[i16]> {
    let mut all = vec![0.0; frames(tone.length())];
    for &(hertz, from_ms, for_ms) in notes(tone) {
        let begin = frames(Span::from_millis(from_ms));
        let count = frames(Span::from_millis(for_ms));
        for (index, sample) in all.iter_mut().skip(begin).take(count).enumerate() {
            let at = index as f64 / f64::from(RATE);
            let left = (count - index) as f64 / f64::from(RATE);
            let swell = (at / EDGE_S).min(left / EDGE_S).min(1.0);
            *sample += LOUDNESS * swell * (TAU * hertz * at).sin();
        }
    }
    all.into_iter()
        .map(|sample| (sample * f64::from(i16::MAX)) as i16)
        .collect()
}

/// How many samples a span is.
pub fn frames(span: Span) -> usize {
    (span.0 * u64::from(RATE) / 1_000_000) as usize
}

/// How long so many samples are.
pub fn span(samples: usize) -> Span {
    Span(samples as u64 * 1_000_000 / u64::from(RATE))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How much of one frequency is in the samples: Goertzel, G. (1958), An Algorithm for the Evaluation of Finite
    /// Trigonometric Series.
    fn strength(samples: &[i16], hertz: f64) -> f64 {
        let turn = 2.0 * (TAU * hertz / f64::from(RATE)).cos();
        let (mut before, mut last) = (0.0, 0.0);
        for &sample in samples {
            (before, last) = (last, f64::from(sample) + turn * last - before);
        }
        (last * last + before * before - turn * last * before).sqrt() / samples.len() as f64
    }

    #[test]
    fn each_tone_has_its_own_pitches_and_stays_within_its_length() {
        for tone in Tone::ALL {
            let all = samples(tone);
            assert_eq!(all.len(), frames(tone.length()), "{tone:?}");
            for &(hertz, from, length) in notes(tone) {
                let begin = frames(Span::from_millis(from));
                let end = begin + frames(Span::from_millis(length));
                assert!(end <= all.len(), "{tone:?} is cut short");
                let note = &all[begin..end];
                let (own, off) = (strength(note, hertz), strength(note, hertz * 1.5));
                assert!(own > 4.0 * off, "{tone:?} {hertz}: {own} against {off}");
            }
        }
    }

    #[test]
    fn no_two_tones_have_the_same_notes() {
        for (index, one) in Tone::ALL.iter().enumerate() {
            for other in &Tone::ALL[index + 1..] {
                assert_ne!(notes(*one), notes(*other));
            }
        }
    }

    #[test]
    fn nothing_begins_or_ends_with_a_crack_or_is_cut_at_full_scale() {
        for tone in Tone::ALL {
            let all = samples(tone);
            let peak = all.iter().map(|sample| sample.unsigned_abs()).max();
            assert!(
                peak.is_some_and(|peak| (9_000..20_000).contains(&peak)),
                "{tone:?} {peak:?}"
            );
            for edge in [all.first(), all.last()] {
                assert!(
                    edge.is_some_and(|sample| sample.unsigned_abs() < 700),
                    "{tone:?} {edge:?}"
                );
            }
        }
    }
}
