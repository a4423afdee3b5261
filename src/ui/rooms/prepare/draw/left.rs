//! A ride that was left open: the way to its page in the head of the room, the page, and what stands in the columns' place
//! once it was taken.

use egui::{Button, Label, Rect, RichText, ScrollArea, Ui, WidgetInfo, pos2};

use super::{heading, part, quiet};
use crate::ui::rooms::prepare::left::{GoingOn, LeftCard};
use crate::ui::theme::{regular, size};
use crate::ui::widgets::{Look, name};

/// How wide the way to the page is, at the reference: its place beside the session's name is always kept.
pub(super) const WIDE: f32 = 226.0;

/// The way to the page, at the right end of the session's line. Says whether it was pressed.
pub(super) fn way(ui: &mut Ui, title: Rect, card: &LeftCard, look: Look) -> bool {
    let at = Rect::from_min_max(
        pos2(title.right() - look.pt(WIDE), title.top()),
        pos2(title.right(), title.top() + look.pt(27.0)),
    );
    let words = quiet(card.way.as_str(), look).color(look.colours.ink);
    let button = Button::new(words).truncate().min_size(at.size());
    let response = ui.push_id("left-open", |ui| ui.place(at, button)).inner;
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, &card.spoken));
    response.clicked()
}

/// The page.
pub(super) fn page(ui: &mut Ui, rect: Rect, card: &LeftCard, look: Look) {
    let mut ui = part(ui, rect, "left-open-page", look);
    ScrollArea::vertical()
        .id_salt("left-open-page")
        .auto_shrink([false, false])
        .show(&mut ui, |ui| {
            ui.spacing_mut().item_spacing.y = look.pt(10.0);
            ui.add(Label::new(heading(word!("A ride was left open"), look)).selectable(false));
            if !card.refused.is_empty() {
                let words = RichText::new(&card.refused).color(look.colours.above);
                let said = says(ui, words, look);
                name(ui, said, word!("Refused"), &card.refused);
            }
            for line in &card.lines {
                says(ui, RichText::new(line), look);
            }
        });
    if !card.lines.is_empty() {
        name(&ui, rect, word!("Left open"), &card.lines.join(" "));
    }
}

/// What stands in the place of sessions and timing while a ride waits to go on. Says whether it is left.
pub(super) fn going_on(ui: &mut Ui, rect: Rect, going: &GoingOn, look: Look) -> bool {
    let mut ui = part(ui, rect, "going-on", look);
    let mut left = false;
    ScrollArea::vertical()
        .id_salt("going-on")
        .auto_shrink([false, false])
        .show(&mut ui, |ui| {
            ui.spacing_mut().item_spacing.y = look.pt(10.0);
            ui.add(Label::new(heading(word!("This ride goes on"), look)).selectable(false));
            for line in &going.lines {
                says(ui, RichText::new(line), look);
            }
            let words = quiet(word!("Ride something else first"), look).color(look.colours.ink);
            left = ui.add(Button::new(words)).clicked();
        });
    name(&ui, rect, word!("Going on"), &going.lines.join(" "));
    left
}

fn says(ui: &mut Ui, words: RichText, look: Look) -> Rect {
    let words = words.font(regular(look.pt(size::BODY)));
    ui.add(Label::new(words).wrap().selectable(false)).rect
}
