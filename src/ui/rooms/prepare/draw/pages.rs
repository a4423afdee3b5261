//! Pages that stand in the columns' place: the cautions in full, and all that is missing.

use egui::{Label, Rect, RichText, ScrollArea, Ui, pos2};

use super::{heading, part};
use crate::text::word;
use crate::ui::rooms::prepare::Data;
use crate::ui::theme::{regular, size};
use crate::ui::widgets::{Look, name};
use crate::ui::words::{BEFORE_RIDING, STOP_SIGNS};

/// What to look at before the first ride of a day, and when to stop.
pub(super) fn cautions(ui: &mut Ui, rect: Rect, look: Look) {
    let before = BEFORE_RIDING.map(word);
    let stop = word(STOP_SIGNS);
    let gap = look.pt(40.0);
    let middle = rect.left() + rect.width() * 0.54;
    let first = rect.with_max_x(middle - gap / 2.0);
    let second = Rect::from_min_max(pos2(middle + gap / 2.0, rect.top()), rect.max);
    column(
        ui,
        first,
        entry!("Before the first ride of the day"),
        &before,
        look,
    );
    let signs: Vec<&str> = stop.split_inclusive(". ").map(str::trim).collect();
    column(ui, second, entry!("When to stop"), &signs, look);
    name(ui, first, word!("Cautions"), &before.join(" "));
    name(ui, second, word!("Stop signs"), stop);
}

/// `title` is an entry, and the column's id.
fn column(ui: &mut Ui, rect: Rect, title: &'static str, lines: &[&str], look: Look) {
    let mut ui = part(ui, rect, title, look);
    ScrollArea::vertical()
        .id_salt(title)
        .auto_shrink([false, false])
        .show(&mut ui, |ui| {
            ui.spacing_mut().item_spacing.y = look.pt(10.0);
            ui.add(Label::new(heading(word(title), look)).selectable(false));
            for words in lines {
                let words = RichText::new(*words).font(regular(look.pt(size::BODY + 2.0)));
                ui.add(Label::new(words).wrap().selectable(false));
            }
        });
}

/// Everything that is missing, in full.
pub(super) fn troubles(ui: &mut Ui, rect: Rect, data: &Data, look: Look) {
    let all: Vec<&str> = data.missing.iter().map(|one| one.whole.as_str()).collect();
    column(ui, rect, entry!("What is missing or wrong"), &all, look);
}
