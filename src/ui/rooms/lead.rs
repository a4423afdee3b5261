//! The page to lead from, in the strip's place: what to say now, what comes next, and what the group should feel.

use egui::{Align2, Rect, Stroke, StrokeKind, Ui, pos2, vec2};

use crate::lead::{Page, Said};
use crate::time::Span;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::text::{self, Type};
use crate::ui::widgets::{Look, name};

/// What the page shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Data {
    /// What to say now; a short word where nothing is to be said.
    pub now: String,
    /// Whether there is anything to say now.
    pub speaks: bool,
    /// "Next in 0:24", or to draw breath; empty after the last cue.
    pub next_in: String,
    /// The next cue's words.
    pub next: String,
    /// Whether it is time to draw breath.
    pub breath: bool,
    /// What the group should feel.
    pub feel: String,
}

impl Data {
    /// From the page of a moment.
    pub fn new(page: &Page) -> Self {
        let spoken = |said: &Said| match &said.speaker {
            Some(speaker) => format!("{speaker}: {}", said.says),
            None => said.says.clone(),
        };
        Self {
            now: page.now.as_ref().map_or_else(|| "…".to_owned(), spoken),
            speaks: page.now.is_some(),
            next_in: match &page.next {
                Some(next) if page.breath => {
                    say!(
                        "Draw breath: {seconds} s",
                        seconds = next.away.seconds().ceil()
                    )
                }
                Some(next) => {
                    // Whole seconds, and none too few: at "0:01" there is still a second.
                    let seconds = next.away.seconds().ceil();
                    say!("Next in {time}", time = Span::from_seconds_f64(seconds))
                }
                None => word!("Nothing more to say").to_owned(),
            },
            next: page.next.as_ref().map_or_else(String::new, spoken),
            breath: page.breath,
            feel: page.feel.clone(),
        }
    }

    /// All of it, for a screen reader.
    pub fn spoken(&self) -> String {
        say!(
            "{now} {next_in}: {next} They feel: {feel}",
            now = self.now,
            next_in = self.next_in,
            next = self.next,
            feel = self.feel
        )
    }
}

/// Draws it over the whole of `rect`. `least` is the least size of what is read from the saddle, points.
pub fn show(ui: &Ui, rect: Rect, data: &Data, least: f32, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    painter.rect_filled(rect, 0.0, colours.ground);
    let stroke = Stroke::new(look.pt(1.5), colours.rule);
    painter.rect_stroke(rect, 0.0, stroke, StrokeKind::Inside);
    let inside = rect.shrink(look.pt(18.0).min(rect.height() * 0.05));
    let gap = look.pt(8.0);
    // A cue that is cut short cannot be said: words go down to what is read leaning over the bars before any are lost.
    let least = least.min(look.near(size::SMALL));
    let (large, line) = (look.far(size::SENTENCE), look.far(size::LINE));
    // The breath is told by its words and by its weight, not by a colour alone.
    let (font, colour): (Type, _) = if data.breath {
        (bold, colours.ink)
    } else {
        (regular, colours.quiet)
    };
    let feel = match data.feel.as_str() {
        "" => String::new(),
        feel => say!("They feel: {feel}", feel),
    };
    // In their order, each with the share of the height that it keeps to where even the least type is too large.
    let parts: [(&str, Type, f32, _, f32); 4] = [
        (&data.now, bold, large, colours.ink, 0.36),
        (&data.next_in, font, line, colour, 0.12),
        (&data.next, regular, line, colours.ink, 0.28),
        (&feel, regular, line, colours.ink, 0.20),
    ];
    let room = (inside.height() - 4.0 * gap).max(1.0);
    let laid = (0..=6u8)
        .map(|step| {
            // The last step is a hand's breadth closer still: in the smallest window the longest cues need it.
            let share = f32::from(step) / 5.0;
            parts.map(|(words, font, size, colour, _)| {
                let size = (size + (least.min(size) - size) * share).max(least * 0.85);
                painter.layout(words.to_owned(), font(size), colour, inside.width())
            })
        })
        .find(|laid| laid.iter().map(|part| part.size().y).sum::<f32>() <= room)
        .unwrap_or_else(|| {
            parts.map(|(words, font, size, colour, share)| {
                let place = vec2(inside.width(), room * share);
                text::fit(painter, words, font, size, least, place, colour)
            })
        });
    // What is said now stands at the head, the rest at the foot, so that neither moves with the other's length.
    let [now, rest @ ..] = laid;
    let mut foot = inside.bottom();
    for ((words, ..), part) in parts.iter().skip(1).zip(rest).rev() {
        if !words.is_empty() {
            let place = Rect::from_min_max(
                pos2(inside.left(), foot - part.size().y),
                pos2(inside.right(), foot),
            );
            text::place(painter, part, place, Align2::LEFT_TOP, colours.ink);
            foot = place.top() - gap;
        }
    }
    painter.hline(inside.x_range(), foot, stroke);
    text::place(painter, now, inside, Align2::LEFT_TOP, colours.ink);
    name(ui, rect, entry!("Lead"), &data.spoken());
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page(away: u64, breath: bool) -> Page {
        Page {
            now: None,
            next: Some(Said {
                speaker: Some("North lamp".to_owned()),
                says: "Up to six.".to_owned(),
                away: Span::from_millis(away),
            }),
            breath,
            block: "Hold".to_owned(),
            block_left: Span::from_seconds(60),
            session_left: Span::from_seconds(600),
            feel: "Firm. Short sentences.".to_owned(),
        }
    }

    #[test]
    fn the_next_cue_is_counted_in_whole_seconds_and_then_in_a_breath() {
        let told = |away, breath| Data::new(&page(away, breath)).next_in;
        assert_eq!(told(24_000, false), "Next in 0:24");
        assert_eq!(told(23_100, false), "Next in 0:24");
        assert_eq!(told(4_200, true), "Draw breath: 5 s");
        assert_eq!(
            Data::new(&page(24_000, false)).next,
            "North lamp: Up to six."
        );
        let last = Page {
            next: None,
            ..page(0, false)
        };
        assert_eq!(Data::new(&last).next_in, "Nothing more to say");
    }
}
