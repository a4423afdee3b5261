//! The room after a ride: what was kept and where, and one rating for the whole.

use egui::{Button, CentralPanel, Frame, Margin, RichText, ScrollArea, Ui, vec2};

use super::prepare;
use crate::engine::snapshot::{Question, RecordState, Snapshot};
use crate::ride::{Finish, Mode, RideMode};
use crate::ui::keys::{self, Hands};
use crate::ui::theme::{bold, size};
use crate::ui::widgets::{Look, rating};

/// Everything that the room shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Data {
    /// How it ended.
    pub title: &'static str,
    /// The session and how much of it was ridden.
    pub ridden: String,
    /// What was kept, where, or what went wrong.
    pub kept: String,
    /// Whether `kept` needs attention.
    pub trouble: bool,
    /// The rating, while it is asked for.
    pub rating: Option<rating::Data>,
    /// How it is answered.
    pub answer: String,
}

impl Data {
    /// What the room shows.
    pub fn new(snapshot: &Snapshot, hands: &Hands) -> Self {
        let title = match snapshot.mode {
            Mode::Finished(Finish::Completed) => "The session is ridden to its end.",
            Mode::Finished(Finish::ByRider) => "The ride was ended by you.",
            _ => "The ride was closed.",
        };
        let session = snapshot.plan.as_ref().map_or("", |plan| plan.name.as_str());
        let mut ridden = format!(
            "{session}: ridden {} of {}.",
            snapshot.ridden, snapshot.session_length
        );
        if snapshot.ride_mode == RideMode::TargetPower && snapshot.work > 0.0 {
            ridden.push_str(&format!(" Work done: {:.0} kJ.", snapshot.work / 1000.0));
        }
        let (kept, trouble) = match &snapshot.record {
            RecordState::Closed(folder, rows) => (
                format!("The recording is whole: {} in {folder}", seconds(*rows)),
                false,
            ),
            RecordState::Writing(folder, rows) => (
                format!(
                    "The recording is being closed: {} so far in {folder}",
                    seconds(*rows)
                ),
                false,
            ),
            RecordState::Trouble(words) => (words.clone(), true),
            RecordState::NotYet => (
                "Nothing was ridden, so nothing was recorded.".to_owned(),
                false,
            ),
        };
        Self {
            title,
            ridden,
            kept,
            trouble,
            rating: snapshot.question.map(|question| rating::Data {
                words: match question {
                    Question::RateBlock(_) => "How hard was the last block, 0 to 10?",
                    Question::RateSession => "How hard was the whole ride, 0 to 10?",
                },
                chosen: hands.rating,
            }),
            answer: keys::answer_words(hands),
        }
    }
}

fn seconds(rows: u64) -> String {
    match rows {
        1 => "1 row, one a second,".to_owned(),
        rows => format!("{rows} rows, one a second,"),
    }
}

/// Draws the room; says whether the rider goes back to Prepare.
pub fn room_ui(ui: &mut Ui, data: &Data, look: Look) -> bool {
    let mut back = false;
    prepare::dress(ui, look);
    let frame = Frame::new()
        .fill(look.colours.ground)
        .inner_margin(Margin::same(look.pt(44.0) as i8));
    CentralPanel::default().frame(frame).show(ui, |ui| {
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = look.pt(16.0);
            ui.label(RichText::new(data.title).font(bold(look.pt(size::LINE))));
            ui.heading(&data.ridden);
            let kept = RichText::new(&data.kept);
            ui.label(if data.trouble {
                kept.color(look.colours.above)
            } else {
                kept
            });
            ui.label("Keep the legs turning a few minutes more: stopping dead after hard work can bring faintness.");
            if let Some(question) = &data.rating {
                let size = vec2(ui.available_width().min(look.pt(760.0)), look.pt(110.0));
                let (rect, _) = ui.allocate_exact_size(size, egui::Sense::hover());
                rating::show(ui, rect, question, look);
                ui.label(
                    RichText::new(&data.answer).color(look.colours.quiet),
                );
            }
            let words = RichText::new("Back to Prepare").font(bold(look.pt(size::BODY + 2.0)));
            let response = ui.add(Button::new(words).min_size(vec2(look.pt(220.0), look.pt(44.0))));
            if ui.memory(|memory| memory.focused()).is_none() {
                response.request_focus();
            }
            back = response.clicked();
        });
    });
    back
}
