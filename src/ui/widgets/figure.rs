//! A figure with its unit: large, or a dash where it is not known.

use egui::{Align2, Rect, Ui, pos2};

use super::{Look, name, text};
use crate::ride::Reading;
use crate::ui::theme::{bold, regular};
use crate::ui::words::DASH;

/// One figure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// What it is, as a screen reader says it; in English, and looked up there.
    pub name: &'static str,
    /// The number as shown; a dash where none is known.
    pub value: String,
    /// Its unit, with what belongs to it: "bpm of 176".
    pub unit: String,
    /// A second, quieter line: what the figure stands against, or why there is none.
    pub note: String,
    /// Whether it is known and fresh: else it is dimmed.
    pub known: bool,
}

impl Figure {
    /// From a reading. A number is shown only while it is fresh; else a dash, and the note says why.
    pub fn of<T: Copy>(
        name: &'static str,
        reading: Reading<T>,
        show: impl Fn(T) -> String,
        unit: impl Into<String>,
        note: impl Into<String>,
    ) -> Self {
        let (value, note, known) = match reading {
            Reading::Fresh(value) => (show(value), note.into(), true),
            Reading::Stale(_) => (DASH.to_owned(), word!("over 3 s ago").to_owned(), false),
            Reading::Gone => (
                DASH.to_owned(),
                word!("lost" # "of a figure").to_owned(),
                false,
            ),
            Reading::NeverSeen => (DASH.to_owned(), word!("no sensor").to_owned(), false),
        };
        Self {
            name,
            value,
            unit: unit.into(),
            note,
            known,
        }
    }

    /// The digits that are kept room for: three for watts and heart rate, two for a cadence until it has three.
    fn room(&self) -> &'static str {
        match (self.name, self.value.chars().count()) {
            ("Power" | "Heart rate", 0..=3) => "000",
            ("Cadence", 0..=2) => "00",
            _ => "",
        }
    }

    /// As it is read out: "86 rpm", "not known: lost".
    pub fn spoken(&self) -> String {
        if self.known {
            [&self.value, &self.unit, &self.note]
                .into_iter()
                .filter(|part| !part.is_empty())
                .map(String::as_str)
                .collect::<Vec<_>>()
                .join(" ")
        } else {
            say!("not known: {why}", why = self.note)
        }
    }
}

/// Draws it: the number at the left of `rect`, unit and note in two lines beside it. `size` is in points.
///
/// B612's figures are all as wide as each other, and the number has the room of as many digits as its own sort can have,
/// so nothing beside it moves when it changes.
pub fn show(ui: &Ui, rect: Rect, figure: &Figure, size: f32, unit_size: f32, look: Look) {
    let painter = ui.painter();
    let ink = if figure.known {
        look.colours.ink
    } else {
        look.colours.quiet
    };
    let beside = |words: &str, width: f32| {
        text::line(
            painter,
            words,
            regular,
            unit_size,
            width,
            look.colours.quiet,
        )
    };
    let longest = beside(&figure.unit, f32::INFINITY)
        .size()
        .x
        .max(beside(&figure.note, f32::INFINITY).size().x);
    let gap = look.pt(10.0);
    // The number has the first claim to the room, but always leaves its unit a third.
    let for_number = (rect.width() - longest - gap).max(rect.width() * 0.62);
    let number = text::line(painter, &figure.value, bold, size, for_number, ink);
    let kept = painter
        .layout_no_wrap(figure.room().to_owned(), bold(size), ink)
        .size()
        .x
        .clamp(number.size().x, for_number.max(number.size().x));
    let place = rect.with_max_x(rect.left() + kept);
    let anchor = if figure.known && figure.room().len() > figure.value.len() {
        Align2::RIGHT_CENTER
    } else {
        Align2::LEFT_CENTER
    };
    text::place(painter, number, place, anchor, ink);
    let room = rect.with_min_x(place.right() + gap);
    let unit = beside(&figure.unit, room.width());
    if figure.note.is_empty() {
        // The unit stands on the number's own line of writing.
        let foot = rect.center().y + size * 0.36;
        let at = pos2(room.left(), foot - unit.size().y * 0.82);
        painter.galley(at, unit, look.colours.quiet);
    } else {
        let note = beside(&figure.note, room.width());
        let middle = rect.center().y;
        painter.galley(
            pos2(room.left(), middle - unit.size().y),
            unit,
            look.colours.quiet,
        );
        painter.galley(pos2(room.left(), middle), note, look.colours.quiet);
    }
    name(ui, rect, figure.name, &figure.spoken());
}
