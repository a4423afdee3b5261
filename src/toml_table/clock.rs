//! Lengths of time as a clock shows them.

use crate::time::Span;

/// A length of time from `m:ss` or `h:mm:ss`.
///
/// # Errors
/// What would be right, in a sentence.
pub fn clock_from(text: &str) -> Result<Span, String> {
    let pieces: Vec<&str> = text.split(':').collect();
    let figures: Option<Vec<u64>> = pieces
        .iter()
        .map(|piece| {
            let digits =
                !piece.is_empty() && piece.len() <= 4 && piece.bytes().all(|b| b.is_ascii_digit());
            digits.then(|| piece.parse().ok()).flatten()
        })
        .collect();
    let general = || {
        Err(word!(
            "Write minutes and seconds, as \"10:00\" or \"0:30\", or hours too, as \"1:05:00\"."
        )
        .to_owned())
    };
    match figures.as_deref() {
        Some(&[seconds]) => Err(say!(
            "Write {figure} minutes as \"{figure}:00\", or {figure} seconds as \"{clock}\".",
            figure = seconds,
            clock = Span::from_seconds(seconds)
        )),
        Some(&[minutes, seconds]) if pieces[1].len() == 2 && seconds < 60 => {
            Ok(Span::from_seconds(minutes * 60 + seconds))
        }
        Some(&[hours, minutes, seconds])
            if pieces[1].len() == 2 && minutes < 60 && pieces[2].len() == 2 && seconds < 60 =>
        {
            Ok(Span::from_seconds(hours * 3600 + minutes * 60 + seconds))
        }
        Some(&[minutes, seconds]) if seconds >= 60 => Err(say!(
            "Seconds run to 59: write \"{clock}\".",
            clock = Span::from_seconds(minutes * 60 + seconds)
        )),
        _ => general(),
    }
}

/// A time of the day from `h:mm` or `h:mm:ss`, in seconds from midnight.
///
/// # Errors
/// What would be right, in a sentence.
pub fn time_of_day(text: &str) -> Result<u32, String> {
    let pieces: Vec<Option<u32>> = text
        .split(':')
        .map(|piece| {
            let digits =
                (1..=2).contains(&piece.len()) && piece.bytes().all(|b| b.is_ascii_digit());
            digits.then(|| piece.parse().ok()).flatten()
        })
        .collect();
    match *pieces.as_slice() {
        [Some(hours @ 0..=23), Some(minutes @ 0..=59)] => Ok(hours * 3600 + minutes * 60),
        [
            Some(hours @ 0..=23),
            Some(minutes @ 0..=59),
            Some(seconds @ 0..=59),
        ] => Ok(hours * 3600 + minutes * 60 + seconds),
        _ => Err(word!("Write a time of the day, as 18:30.").to_owned()),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn times_of_the_day_end_before_midnight() {
        for (text, seconds) in [
            ("0:00", 0),
            ("18:30", 66_600),
            ("06:05", 21_900),
            ("23:59:59", 86_399),
        ] {
            assert_eq!(time_of_day(text), Ok(seconds));
        }
        for text in [
            "", "18", "24:00", "18:60", "18:30:60", "-1:00", "18:030", "1:2:3:4", "18.30",
        ] {
            assert!(time_of_day(text).is_err(), "{text}");
        }
    }

    #[test]
    fn times_are_read_as_a_clock_shows_them() {
        for (text, seconds) in [
            ("0:01", 1),
            ("10:00", 600),
            ("90:30", 5430),
            ("1:05:00", 3900),
            ("0:00:10", 10),
            ("0:00", 0),
        ] {
            assert_eq!(clock_from(text), Ok(Span::from_seconds(seconds)), "{text}");
        }
    }

    #[test]
    fn other_writings_are_refused_with_what_would_be_right() {
        for (text, says) in [
            ("90", "\"1:30\""),
            ("1:75", "\"2:15\""),
            ("1:5", "minutes and seconds"),
            ("1:60:00", "minutes and seconds"),
            ("1:1:1", "minutes and seconds"),
            ("-1:00", "minutes and seconds"),
            ("1:00:00:00", "minutes and seconds"),
            ("99999999999999999999:00", "minutes and seconds"),
            ("1.5:00", "minutes and seconds"),
            (" 1:00", "minutes and seconds"),
            ("", "minutes and seconds"),
            (":", "minutes and seconds"),
        ] {
            let instead = clock_from(text).unwrap_err();
            assert!(instead.contains(says), "{text}: {instead}");
        }
    }
}
