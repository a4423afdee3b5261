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
                    format!("Draw breath: {} s", next.away.seconds().ceil())
                }
                Some(next) => {
                    // Whole seconds, and none too few: at "0:01" there is still a second.
                    let seconds = next.away.seconds().ceil();
                    format!("Next in {}", Span::from_seconds_f64(seconds))
                }
                None => "Nothing more to say".to_owned(),
            },
            next: page.next.as_ref().map_or_else(String::new, spoken),
            breath: page.breath,
            feel: page.feel.clone(),
        }
    }

    /// All of it, for a screen reader.
    pub fn spoken(&self) -> String {
        format!(
            "{} {}: {} They feel: {}",
            self.now, self.next_in, self.next, self.feel
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
    let part = |from: f32, to: f32| {
        Rect::from_min_max(
            pos2(inside.left(), inside.top() + inside.height() * from),
            pos2(inside.right(), inside.top() + inside.height() * to),
        )
    };
    // A cue that is cut short cannot be said: words go down to what is read leaning over the bars before any are lost.
    let least = least.min(look.near(size::SMALL));
    let write = |place: Rect, words: &str, font: Type, size: f32, colour| {
        let gap = vec2(0.0, look.pt(4.0));
        let galley = text::fit(
            painter,
            words,
            font,
            size,
            least,
            place.size() - gap,
            colour,
        );
        text::place(painter, galley, place, Align2::LEFT_TOP, colour);
    };
    let large = look.far(size::SENTENCE);
    let line = look.far(size::LINE);
    write(part(0.0, 0.42), &data.now, bold, large, colours.ink);
    let rule = part(0.42, 0.44);
    painter.hline(rule.x_range(), rule.center().y, stroke);
    // The breath is told by its words and by its weight, not by a colour alone.
    let (font, colour): (Type, _) = if data.breath {
        (bold, colours.ink)
    } else {
        (regular, colours.quiet)
    };
    write(part(0.45, 0.56), &data.next_in, font, line, colour);
    write(part(0.56, 0.80), &data.next, regular, line, colours.ink);
    if !data.feel.is_empty() {
        let words = format!("They feel: {}", data.feel);
        write(part(0.82, 1.0), &words, regular, line, colours.ink);
    }
    name(ui, rect, "Lead", &data.spoken());
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
