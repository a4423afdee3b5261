//! A list that is one stop of the tab key and is walked by arrows; only the lines in view are made.

use egui::{
    Color32, EventFilter, Key, Rect, Role, ScrollArea, Sense, Stroke, StrokeKind, Ui, WidgetInfo,
    pos2, style::ScrollAnimation, vec2,
};

use crate::text::translated;
use crate::ui::widgets::Look;

/// A list of lines, one of which is picked.
pub(in crate::ui::rooms) struct List<'a> {
    /// The entry of its name for a screen reader.
    pub name: &'a str,
    /// How many lines it has.
    pub lines: usize,
    /// Which is picked.
    pub picked: usize,
    /// The name of the picked one for a screen reader, in view or not.
    pub spoken: String,
    /// How high each is, points.
    pub high: f32,
}

impl List<'_> {
    /// Draws it over `rect` and gives the line that is picked now. `draw` paints a line and gives its name for a screen
    /// reader.
    pub fn show(
        &self,
        ui: &mut Ui,
        rect: Rect,
        look: Look,
        mut draw: impl FnMut(&Ui, Rect, usize) -> String,
    ) -> usize {
        let id = ui.scope_id().with(self.name);
        let whole = ui.interact(rect, id, Sense::focusable_noninteractive());
        let mut picked = self.picked.min(self.lines.saturating_sub(1));
        if whole.has_focus() {
            picked = self.walked(ui, id, picked, (rect.height() / self.high) as usize);
        }
        // Picked by the keys here, or elsewhere in the room: either way it comes into view.
        let shown = ui.data(|data| data.get_temp::<usize>(id));
        let moved = picked != self.picked || shown != Some(picked);
        ui.data_mut(|data| data.insert_temp(id, picked));
        let mut inner = ui.new_child(egui::UiBuilder::new().id_salt(self.name).max_rect(rect));
        inner.set_clip_rect(rect.expand(look.pt(3.0)));
        inner.spacing_mut().item_spacing = vec2(0.0, 0.0);
        ScrollArea::vertical()
            .id_salt(self.name)
            .auto_shrink([false, false])
            .show_viewport(&mut inner, |ui, view| {
                ui.set_height(self.high * self.lines as f32);
                let corner = ui.max_rect().min;
                let line = |index: usize| {
                    let top = corner.y + self.high * index as f32;
                    let right = ui.max_rect().right() - look.pt(10.0);
                    Rect::from_min_max(pos2(corner.x, top), pos2(right, top + self.high))
                };
                let first = (view.top() / self.high).floor().max(0.0) as usize;
                let last = ((view.bottom() / self.high).ceil() as usize).min(self.lines);
                for index in first..last {
                    let at = line(index);
                    let response = ui.interact(at, id.with(index), Sense::CLICK);
                    if response.clicked() {
                        picked = index;
                    }
                    let ring = whole.has_focus() && index == picked;
                    back(ui, at, index == picked, ring, response.hovered(), look);
                    let words = draw(ui, at, index);
                    response.widget_info(|| {
                        WidgetInfo::selected(Role::ListBoxOption, true, index == picked, &words)
                    });
                }
                if moved {
                    ui.scroll_to_rect_animation(line(picked), None, ScrollAnimation::none());
                }
            });
        whole.widget_info(|| WidgetInfo {
            current_text_value: Some(self.spoken.clone()),
            ..WidgetInfo::labeled(Role::ListBox, true, translated(self.name))
        });
        picked
    }

    /// Where the keys lead that were pressed while the list had the keyboard.
    fn walked(&self, ui: &Ui, id: egui::Id, from: usize, page: usize) -> usize {
        let filter = EventFilter {
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
        let last = self.lines.saturating_sub(1);
        let page = page.max(1);
        ui.input(|input| {
            let mut at = from;
            for (key, to) in [
                (Key::ArrowDown, (from + 1).min(last)),
                (Key::ArrowUp, from.saturating_sub(1)),
                (Key::PageDown, (from + page).min(last)),
                (Key::PageUp, from.saturating_sub(page)),
                (Key::Home, 0),
                (Key::End, last),
            ] {
                if input.key_pressed(key) {
                    at = to;
                }
            }
            at
        })
    }
}

/// What lies under a line: a fill where it is picked, a ring where it has the keyboard, a bar that tells the picked one
/// without colour.
fn back(ui: &Ui, at: Rect, picked: bool, ring: bool, hovered: bool, look: Look) {
    let colours = look.colours;
    let place = at.shrink2(vec2(0.0, look.pt(1.0)));
    let painter = ui.painter();
    if picked {
        painter.rect_filled(place, 0.0, colours.lane);
        let bar = place.with_max_x(place.left() + look.pt(4.0));
        painter.rect_filled(bar, 0.0, colours.ink);
    }
    let (width, colour) = match (ring, hovered) {
        (true, _) => (2.5, colours.ink),
        (false, true) => (1.5, colours.quiet),
        (false, false) => (0.0, Color32::TRANSPARENT),
    };
    if width > 0.0 {
        let stroke = Stroke::new(look.pt(width), colour);
        painter.rect_stroke(place, 0.0, stroke, StrokeKind::Inside);
    }
}
