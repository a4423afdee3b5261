//! The row of keys at the foot: as many as fit at a size that can be read, the most needed last to go.

use egui::{Align2, Rect, Sense, Ui, WidgetInfo, pos2};

use crate::ui::keys::{Act, Hint};
use crate::ui::theme::{bold, regular};
use crate::ui::widgets::text::Type;
use crate::ui::widgets::{Look, name};

/// What stands at the left of the keys.
pub(super) struct Said<'a> {
    /// That all is muted, or heard again; empty where nothing of it has to be said.
    pub(super) sound: &'a str,
    /// The session's clock.
    pub(super) clock: &'a str,
}

/// Draws the keys at the right and the session's clock at the left where there is room for it, and gives the acts of the
/// hints that were clicked.
pub(super) fn show(
    ui: &Ui,
    rect: Rect,
    hints: &[Hint],
    said: &Said<'_>,
    size: f32,
    look: Look,
) -> Vec<Act> {
    let colours = look.colours;
    let (gap, inner) = (size, size * 0.35);
    let painter = ui.painter();
    let mut pieces: Vec<_> = hints
        .iter()
        .map(|hint| {
            let key = painter.layout_no_wrap(hint.key.clone(), bold(size), colours.ink);
            let words = painter.layout_no_wrap(hint.words.clone(), regular(size), colours.quiet);
            let width = key.size().x + inner + words.size().x;
            (hint, key, words, width)
        })
        .collect();
    let wide =
        |pieces: &[(&Hint, _, _, f32)]| pieces.iter().map(|piece| piece.3 + gap).sum::<f32>() - gap;
    // Hints come the most needed first, brake off at the end: the ones before it go first, pause after all others.
    while pieces.len() > 1 && wide(&pieces) > rect.width() {
        let kept = |act: Act| matches!(act, Act::BrakeOff | Act::Pause | Act::Yes);
        let go = pieces
            .iter()
            .rposition(|piece| !kept(piece.0.act))
            .or_else(|| {
                pieces
                    .iter()
                    .rposition(|piece| piece.0.act != Act::BrakeOff)
            });
        match go {
            Some(at) => {
                pieces.remove(at);
            }
            None => break,
        }
    }
    let mut left = rect.right() - wide(&pieces);
    let mut from = rect.left();
    // That nothing is heard comes before the time: who waits for a cue would wait in vain.
    for (label, words, font, colour) in [
        (entry!("Sound"), said.sound, bold as Type, colours.ink),
        (entry!("Session time"), said.clock, regular, colours.quiet),
    ] {
        let galley = painter.layout_no_wrap(words.to_owned(), font(size), colour);
        if words.is_empty() || from + galley.size().x + gap > left {
            continue;
        }
        let at = Align2::LEFT_CENTER.align_size_within_rect(galley.size(), rect.with_min_x(from));
        painter.galley(at.min, galley, colour);
        name(ui, at, label, words);
        from = at.right() + gap;
    }
    let mut clicked = Vec::new();
    for (hint, key, words, width) in pieces {
        let place = Rect::from_min_max(pos2(left, rect.top()), pos2(left + width, rect.bottom()));
        let id = egui::Id::unique(("hint", hint.act));
        let response = ui.interact(place, id, Sense::click());
        let label = format!("{} ({})", hint.words, hint.key);
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, &label));
        if response.clicked() {
            clicked.push(hint.act);
        }
        let y = place.center().y - key.size().y / 2.0;
        let at = place.left() + key.size().x + inner;
        ui.painter().galley(pos2(place.left(), y), key, colours.ink);
        ui.painter().galley(pos2(at, y), words, colours.quiet);
        left += width + gap;
    }
    clicked
}
