//! What a television shows to the others in the room: the countdown of the block, what is said and how it should feel,
//! the beat of the pedals, and the plan. Effort figures only: watts are the leader's own, and so is their ink.

use egui::{Align2, Rect, Ui, pos2, vec2};

use crate::engine::Snapshot;
use crate::lead;
use crate::plan::Load;
use crate::ride::{Mode, RideMode};
use crate::time::{Instant, Span};
use crate::ui::keys::{self, Hands};
use crate::ui::rooms::ride::{self, Own};
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::text::{self, Type};
use crate::ui::widgets::{Look, name, pulse, strip};

/// Everything that it shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Data {
    /// "Hold 2 of 4", or what is waited for.
    pub head: String,
    /// The countdown: time left in the block, or until the group begins.
    pub left: String,
    /// The share of the last seconds that is left, while they are counted down.
    pub counted: Option<f32>,
    /// The whole session's clock.
    pub clock: String,
    /// "7 of 10", or "all out".
    pub aim: String,
    /// What to feel.
    pub feel: String,
    /// What is said now; empty where nothing is.
    pub says: String,
    /// The beat of the planned cadence, while the clock runs.
    pub pulse: Option<pulse::Data>,
    /// The planned cadence in words.
    pub cadence: String,
    /// The plan, without anybody's ink.
    pub strip: strip::Data,
    /// What comes next.
    pub next: String,
}

impl Data {
    /// What it shows at `now`; where `smoothly` is false the strip moves in steps of a second.
    pub fn new(now: Instant, snapshot: &Snapshot, smoothly: bool) -> Self {
        match snapshot.mode {
            Mode::Idle | Mode::Connecting | Mode::Ready => return Self::before(now, snapshot),
            Mode::Finished(_) => {
                return Self {
                    head: word!("The session is over.").to_owned(),
                    feel: word!("Keep the legs turning for some minutes.").to_owned(),
                    ..Self::default()
                };
            }
            Mode::Riding | Mode::Paused(_) | Mode::Degraded { .. } => {}
        }
        // As by effort: neither watts nor the ink of whoever leads are the others' business.
        let shared = Snapshot {
            ride_mode: RideMode::EffortOnly,
            question: None,
            ..snapshot.clone()
        };
        let room = ride::Data::moving(now, &shared, &Hands::default(), true, smoothly);
        let session = ride::session_at(now, snapshot);
        let page = snapshot
            .plan
            .as_deref()
            .filter(|_| !room.no_clock)
            .and_then(|plan| lead::page(plan, &snapshot.laps, session));
        let band = snapshot.laps.get(snapshot.lap).and_then(|lap| {
            let plan = snapshot.plan.as_deref()?;
            plan.blocks.get(lap.block)?.cadence
        });
        let middle = band.map(|band| (band.low.0 + band.high.0) / 2.0);
        // Watts of the plan are an effort for whoever leads, and another one for everybody else.
        let (aim, talk) = match &room.own {
            Own::Aim(aim, talk) if asks_for_effort(snapshot, session) => {
                (aim.clone(), (*talk).to_owned())
            }
            Own::Aim(..) | Own::Cadence(..) => (String::new(), String::new()),
        };
        let number = aim.starts_with(|first: char| first.is_ascii_digit());
        let paused = keys::paused(snapshot.mode).is_some();
        Self {
            head: if paused {
                say!("{block}, paused", block = room.block)
            } else {
                room.block
            },
            left: room.left,
            counted: room.counted,
            clock: room.clock,
            aim: if number {
                format!("{aim} {}", word!("of 10"))
            } else {
                aim
            },
            feel: page
                .as_ref()
                .map(|page| page.feel.clone())
                .filter(|feel| !feel.is_empty())
                .unwrap_or(talk),
            says: page
                .and_then(|page| page.now)
                .map_or_else(String::new, |said| said.says),
            pulse: middle
                .filter(|_| snapshot.mode.runs())
                .map(|rpm| pulse::Data::at(rpm, session.seconds())),
            cadence: band.map_or_else(String::new, |band| {
                format!("{} rpm", crate::ui::words::band(band))
            }),
            strip: strip::Data {
                ink: Vec::new(),
                // The beat of the pedals says it larger.
                bands: Vec::new(),
                now: None,
                cadence: Vec::new(),
                cadence_now: None,
                broken: false,
                against: String::new(),
                alone: !room.strip.lane.is_empty(),
                ..room.strip
            },
            next: room.next,
        }
    }

    /// Before the session: what comes, and how long until it begins.
    fn before(now: Instant, snapshot: &Snapshot) -> Self {
        let name = snapshot.plan.as_deref().map_or("", |plan| &plan.name);
        let group = snapshot.group.as_ref();
        let starts = group.and_then(|group| Some((group.clock_words()?, group.starts_in(now)?)));
        let Some((clock, left)) = starts else {
            return Self {
                head: name.to_owned(),
                feel: word!("The session begins in a moment.").to_owned(),
                ..Self::default()
            };
        };
        Self {
            head: name.to_owned(),
            left: Span::from_seconds(left.0.div_ceil(1_000_000)).to_string(),
            feel: say!(
                "Starts at {clock}. Turn the pedals easily till then.",
                clock
            ),
            ..Self::default()
        }
    }
}

/// Whether the session itself asks for an effort at this moment.
fn asks_for_effort(snapshot: &Snapshot, session: Span) -> bool {
    let block = snapshot.laps.get(snapshot.lap).and_then(|lap| {
        let block = snapshot.plan.as_deref()?.blocks.get(lap.block)?;
        let share = session.less(lap.start).seconds() / lap.length.seconds().max(1.0);
        block.target.at(share.clamp(0.0, 1.0))
    });
    matches!(block, Some(Load::Effort(_)))
}

/// Draws it over the whole window. Nothing on it can be pressed.
pub fn room_ui(ui: &mut Ui, data: &Data, look: Look) {
    let window = ui.max_rect();
    let colours = look.colours;
    ui.painter().rect_filled(window, 0.0, colours.ground);
    let edge = look.pt(44.0);
    let inside = window.shrink2(vec2(edge, look.pt(20.0)));
    // Shares of the height: head, countdown, what is said, the plan, what comes.
    let lines = |from: f32, to: f32| {
        Rect::from_min_max(
            pos2(inside.left(), inside.top() + inside.height() * from),
            pos2(inside.right(), inside.top() + inside.height() * to),
        )
    };
    let clock = line(
        ui,
        lines(0.0, 0.09),
        &data.clock,
        regular,
        size::UNIT,
        true,
        look,
    );
    let head = lines(0.0, 0.09);
    let head = head.with_max_x(clock.left() - edge);
    line(ui, head, &data.head, bold, size::LINE * 1.15, false, look);
    name(ui, head, entry!("Group block"), &data.head);
    let middle = lines(0.10, 0.50);
    let (left, right) = middle.split_left_right_at_fraction(0.60);
    countdown(ui, left, data, look);
    task(ui, right, data, look);
    words(ui, lines(0.51, 0.69), data, look);
    let plan = lines(0.70, 0.92);
    if !data.strip.lane.is_empty() {
        strip::show(ui, plan, &data.strip, look);
    }
    let next = lines(0.93, 1.0);
    line(ui, next, &data.next, regular, size::LINE, false, look);
    name(ui, next, entry!("Group next"), &data.next);
}

/// One line at the left or the right of a rectangle; gives where it stands.
fn line(ui: &Ui, rect: Rect, words: &str, font: Type, size: f32, right: bool, look: Look) -> Rect {
    let ink = look.colours.ink;
    let size = look.pt(size).min(rect.height() / 1.15);
    let galley = text::line(ui.painter(), words, font, size, rect.width(), ink);
    let anchor = if right {
        Align2::RIGHT_CENTER
    } else {
        Align2::LEFT_CENTER
    };
    text::place(ui.painter(), galley, rect, anchor, ink)
}

/// The countdown, as large as there is room; over the last seconds a bar under it runs out.
fn countdown(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let ink = look.colours.ink;
    let painter = ui.painter();
    let size = rect.height() / 1.05;
    // A bare figure could be taken for an effort: seconds say that they are.
    let bare = !data.left.is_empty() && data.left.chars().all(|sign| sign.is_ascii_digit());
    let words = format!("{}{}", data.left, if bare { " s" } else { "" });
    let galley = text::line(painter, &words, bold, size, rect.width() * 0.96, ink);
    text::place(painter, galley, rect, Align2::LEFT_CENTER, ink);
    if let Some(share) = data.counted {
        let stroke = egui::Stroke::new(look.pt(12.0), ink);
        let y = rect.bottom() - look.pt(6.0);
        painter.hline(rect.left()..=rect.left() + rect.width() * share, y, stroke);
    }
    name(ui, rect, entry!("Group countdown"), &words);
}

/// How hard and how fast: the effort, and the beat of the pedals.
fn task(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let (upper, lower) = rect.split_top_bottom_at_fraction(0.42);
    line(ui, upper, &data.aim, bold, size::MIDDLE * 1.4, false, look);
    name(ui, upper, entry!("Group effort"), &data.aim);
    let ring = match &data.pulse {
        Some(dot) => pulse::show(ui, lower, dot, look),
        None => lower.with_max_x(lower.left()),
    };
    let room = lower.with_min_x(ring.right() + look.pt(20.0));
    line(ui, room, &data.cadence, regular, size::LINE, false, look);
    name(ui, room, entry!("Group cadence"), &data.cadence);
}

/// What is said now, and how it should feel.
fn words(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let ink = look.colours.ink;
    let painter = ui.painter();
    let share = if data.says.is_empty() { 0.0 } else { 0.66 };
    let (upper, lower) = rect.split_top_bottom_at_fraction(share);
    if !data.says.is_empty() {
        let (large, least) = (look.pt(size::SENTENCE), look.pt(size::UNIT) * 0.6);
        let said = text::fit(painter, &data.says, bold, large, least, upper.size(), ink);
        text::place(painter, said, upper, Align2::LEFT_CENTER, ink);
    }
    name(ui, upper, entry!("Group hears"), &data.says);
    let size = look.pt(size::LINE).min(lower.height() / 1.2);
    let feel = text::line(painter, &data.feel, regular, size, lower.width(), ink);
    text::place(painter, feel, lower, Align2::LEFT_CENTER, ink);
    name(ui, lower, entry!("Group feels"), &data.feel);
}
