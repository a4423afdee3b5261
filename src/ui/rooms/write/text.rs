//! The text itself: numbered lines, told apart by colour and weight, those with problems marked.

use std::any::TypeId;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use egui::style::ScrollAnimation;
use egui::text::{CCursor, CCursorRange, CharIndex, LayoutJob, TextFormat};
use egui::text_edit::TextEditState;
use egui::{
    Align2, Frame, Galley, Id, Margin, Rect, ScrollArea, Stroke, TextBuffer, TextEdit, Ui,
    UiBuilder, pos2, vec2,
};

use super::State;
use crate::plan::Severity;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::Look;
use crate::write::Editor;
use crate::write::inks::{Ink, inks};

/// How wide the numbers of lines with their marks are, at the reference.
const GUTTER: f32 = 52.0;

/// A text of up to so many bytes is drawn in its colours; a longer one plainly, so that a frame stays a frame.
const COLOURED: usize = 64 * 1024;

/// The laid-out text of the last frame, made anew only where something of it changed.
#[derive(Clone, Debug, Default)]
pub(super) struct Laid {
    of: Option<Made>,
    job: LayoutJob,
}

/// What a layout was made for.
#[derive(Clone, Debug, PartialEq)]
struct Made {
    text: String,
    marked: Arc<BTreeMap<usize, Severity>>,
    scale: f32,
    ground: egui::Color32,
}

/// The text as the widget edits it: what would make it too long is refused.
struct Buffer<'e>(&'e mut Editor);

impl TextBuffer for Buffer<'_> {
    fn is_mutable(&self) -> bool {
        true
    }

    fn as_str(&self) -> &str {
        self.0.text()
    }

    fn insert_text(&mut self, text: &str, at: CharIndex) -> usize {
        self.0.insert(at.0, text)
    }

    fn delete_char_range(&mut self, range: Range<CharIndex>) {
        self.0.remove(range.start.0, range.end.0);
    }

    fn type_id(&self) -> TypeId {
        TypeId::of::<Buffer<'static>>()
    }
}

/// The widget's name in egui's memory.
pub(super) fn id() -> Id {
    Id::unique("session text")
}

/// Draws the text over `rect`; what is typed goes into the editor. `locked` keeps the tab key here, for completion.
pub(super) fn show(ui: &mut Ui, rect: Rect, state: &mut State, look: Look, locked: bool) {
    let id = id();
    let Some(editor) = &mut state.editor else {
        return;
    };
    let mut marked: BTreeMap<usize, Severity> = BTreeMap::new();
    for problem in editor.problems() {
        let worst = marked.entry(problem.line).or_insert(problem.severity);
        *worst = (*worst).min(problem.severity);
    }
    let marked = Arc::new(marked);
    let mut follow = false;
    if let Some((from, to)) = state.mark.take() {
        let mut kept = TextEditState::load(ui.ctx(), id).unwrap_or_default();
        let marked = CCursorRange::two(CCursor::new(from), CCursor::new(to));
        kept.cursor.set_char_range(Some(marked));
        kept.store(ui.ctx(), id);
        follow = true;
    }
    let before = state.cursor;
    let selected = TextEditState::load(ui.ctx(), id).and_then(|kept| kept.cursor.char_range());
    let stroke = Stroke::new(look.pt(1.5), look.colours.rule);
    ui.painter()
        .rect_stroke(rect, 0.0, stroke, egui::StrokeKind::Inside);
    let mut inner = ui.new_child(
        UiBuilder::new()
            .id_salt("text")
            .max_rect(rect.shrink(look.pt(3.0))),
    );
    inner.set_clip_rect(rect.shrink(1.0));
    let laid = &mut state.laid;
    let shown = ScrollArea::vertical()
        .id_salt("text")
        .auto_shrink([false, false])
        .show(&mut inner, |ui| {
            let gutter = look.pt(GUTTER);
            let mut layouter = |ui: &Ui, buffer: &dyn TextBuffer, wide: f32| {
                laid.galley(ui, buffer.as_str(), &marked, wide, look)
            };
            let whole = ui.available_rect_before_wrap();
            let room = Rect::from_min_max(
                pos2(whole.left() + gutter, whole.top()),
                pos2(whole.right() - look.pt(12.0), whole.bottom()),
            );
            let mut beside = ui.new_child(UiBuilder::new().id_salt("edit").max_rect(room));
            let output = TextEdit::multiline(&mut Buffer(editor))
                .id(id)
                .frame(Frame::NONE.inner_margin(Margin::symmetric(0, 4)))
                .font(regular(look.pt(size::NOTE)))
                .desired_width(f32::INFINITY)
                .min_size(vec2(0.0, rect.height() - look.pt(12.0)))
                .lock_focus(locked)
                .cursor_at_end(false)
                .layouter(&mut layouter)
                .show(&mut beside);
            let high = beside.min_rect().height();
            ui.allocate_space(vec2(1.0, high));
            numbers(
                ui,
                whole.left(),
                &output.galley,
                output.galley_pos,
                &marked,
                look,
            );
            if follow && let Some(range) = output.state.cursor.char_range() {
                let at = output.galley.pos_from_cursor(range.primary);
                let at = at.translate(output.galley_pos.to_vec2());
                // A few lines around it are seen too.
                let around = at.expand2(vec2(0.0, look.pt(60.0)));
                ui.scroll_to_rect_animation(around, None, ScrollAnimation::none());
            }
            output
        });
    let output = shown.inner;
    let refused = editor.take_refused();
    if let Some(mut kept) = TextEditState::load(ui.ctx(), id) {
        if refused {
            // What was selected is there again.
            kept.cursor.set_char_range(selected);
        }
        // What can be taken back is kept by the editor: a second memory of the text would only cost room.
        kept.clear_undoer();
        kept.store(ui.ctx(), id);
    }
    state.page = (rect.height() / line_high(look)) as usize;
    let range = output.cursor_range.or(output.state.cursor.char_range());
    let range = if refused { selected.or(range) } else { range };
    let cursor = range.map_or(before, |range| range.primary.index.0);
    editor.settle(before, cursor);
    if refused {
        let most = crate::write::MOST_BYTES / 1024;
        let words = say!(
            "That would make the text longer than {most} KiB, the most that a session file may have, so nothing was put in.",
            most
        );
        state.said = super::Said { words, wrong: true };
    } else if output.response.response.changed() {
        state.said = super::Said::default();
        state.choosing = None;
    }
    if cursor != state.cursor && !follow {
        state.cursor = cursor;
        state.choosing = None;
    }
    let response = &output.response.response;
    ui.ctx()
        .accesskit_node_builder(response.id, |node| node.set_label(word!("Session text")));
    if state.fresh {
        response.request_focus();
        state.fresh = false;
    }
}

/// The numbers of the lines in view, and a mark at each that has a problem.
fn numbers(
    ui: &Ui,
    left: f32,
    galley: &Galley,
    at: egui::Pos2,
    marked: &BTreeMap<usize, Severity>,
    look: Look,
) {
    let view = ui.clip_rect();
    let painter = ui.painter();
    let colours = look.colours;
    let (mut line, mut begins) = (1, true);
    for row in &galley.rows {
        let top = at.y + row.pos.y;
        if begins && top + row.size.y >= view.top() && top <= view.bottom() {
            let middle = top + row.size.y / 2.0;
            let right = pos2(left + look.pt(GUTTER - 14.0), middle);
            let (mark, colour) = match marked.get(&line) {
                Some(Severity::Error) => ("!", colours.above),
                Some(Severity::Warning) => ("?", colours.above),
                None => ("", colours.quiet),
            };
            let note = regular(look.pt(size::NOTE - 2.0));
            painter.text(right, Align2::RIGHT_CENTER, line, note, colour);
            if !mark.is_empty() {
                let font = bold(look.pt(size::NOTE));
                let at = pos2(left + look.pt(3.0), middle);
                painter.text(at, Align2::LEFT_CENTER, mark, font, colour);
            }
        }
        begins = row.ends_with_newline;
        line += usize::from(begins);
        if top > view.bottom() {
            break;
        }
    }
}

impl Laid {
    fn galley(
        &mut self,
        ui: &Ui,
        text: &str,
        marked: &Arc<BTreeMap<usize, Severity>>,
        wide: f32,
        look: Look,
    ) -> Arc<Galley> {
        let stands = self.of.as_ref().is_some_and(|made| {
            made.scale == look.scale
                && made.ground == look.colours.ground
                && made.marked == *marked
                && made.text == text
        });
        if !stands {
            self.job = job(text, marked, look);
            self.of = Some(Made {
                text: text.to_owned(),
                marked: Arc::clone(marked),
                scale: look.scale,
                ground: look.colours.ground,
            });
        }
        self.job.wrap.max_width = wide;
        ui.fonts_mut(|fonts| fonts.layout_job(self.job.clone()))
    }
}

/// How high a line is, points.
fn line_high(look: Look) -> f32 {
    (look.pt(size::NOTE) * 1.45).round()
}

fn job(text: &str, marked: &BTreeMap<usize, Severity>, look: Look) -> LayoutJob {
    let colours = look.colours;
    let points = look.pt(size::NOTE);
    let mut job = LayoutJob {
        text: String::with_capacity(text.len()),
        keep_trailing_whitespace: true,
        ..LayoutJob::default()
    };
    let format = |ink: Ink| {
        let (font, colour) = match ink {
            Ink::Heading => (bold(points), colours.ink),
            Ink::Key => (regular(points), colours.below),
            Ink::Remark => (regular(points), colours.quiet),
            Ink::Text | Ink::Plain => (regular(points), colours.ink),
        };
        TextFormat {
            font_id: font,
            color: colour,
            italics: ink == Ink::Remark,
            line_height: Some(line_high(look)),
            ..TextFormat::default()
        }
    };
    if text.len() > COLOURED {
        job.append(text, 0.0, format(Ink::Plain));
        return job;
    }
    for (number, line) in text.split_inclusive('\n').enumerate() {
        let bare = line.strip_suffix('\n').unwrap_or(line);
        let wrong = marked.contains_key(&(number + 1));
        for (range, ink) in inks(bare) {
            let mut format = format(ink);
            if wrong {
                format.underline = Stroke::new(look.pt(1.5), colours.above);
            }
            job.append(&bare[range], 0.0, format);
        }
        if bare.len() < line.len() {
            job.append("\n", 0.0, format(Ink::Plain));
        }
    }
    if text.is_empty() || text.ends_with('\n') {
        // An empty last line has the height of the others.
        job.append("", 0.0, format(Ink::Plain));
    }
    job
}
