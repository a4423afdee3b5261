//! What Prepare shows, without drawing it.

use super::{Chosen, Shelf};
use crate::device::{Adapter, DeviceId};
use crate::engine::Command;
use crate::engine::command::Role;
use crate::engine::snapshot::{DeviceRow, Lap, Link, Snapshot};
use crate::plan::{Audience, Block, Plan, Position};
use crate::ride::{Mode, RideMode};
use crate::rider::{EffortMap, PauseAfter, Rider};
use crate::time::{Instant, Span};
use crate::ui::lane::{Asked, Lanes, edges};
use crate::ui::widgets::preview;
use crate::ui::widgets::strip::LanePoint;
use crate::ui::words;

/// One row of the timing table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TimingRow {
    /// When the block begins.
    pub start: String,
    /// How long it is.
    pub length: String,
    /// Its name.
    pub block: String,
    /// What it asks for.
    pub load: String,
    /// Watts for the rider; empty in effort-only mode and where there are none.
    pub watts: String,
    /// Its cadence; empty where the session leaves it open.
    pub cadence: String,
    /// How to sit; empty where it is the rider's own choice.
    pub position: &'static str,
}

/// The chosen session.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SessionCard {
    /// Its name.
    pub name: String,
    /// What it is for.
    pub purpose: String,
    /// Who wrote it, and for whom.
    pub by: String,
    /// "Main part 31:00 of 53:00."
    pub lengths: String,
    /// Its whole strip.
    pub preview: preview::Data,
    /// Its blocks.
    pub rows: Vec<TimingRow>,
}

/// A figure of the rider's.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// What it is.
    pub what: &'static str,
    /// The figure with its unit.
    pub value: String,
    /// Whether nobody has confirmed it yet.
    pub check_me: bool,
}

/// A button that gives a device a role or takes it away.
#[derive(Clone, Debug, PartialEq)]
pub struct RoleButton {
    /// "trainer".
    pub role: Role,
    /// Whether the device has the role.
    pub used: bool,
    /// What a press sends.
    pub command: Command,
    /// Its name for a screen reader: "Use Practice trainer as trainer".
    pub spoken: String,
}

/// One device.
#[derive(Clone, Debug, PartialEq)]
pub struct DeviceLine {
    /// Which.
    pub id: DeviceId,
    /// Its name, and that it is simulated where it is.
    pub name: String,
    /// How its link stands, in words.
    pub link: String,
    /// Newest figures, battery, signal, when it was last heard.
    pub details: String,
    /// What it can be used for.
    pub roles: Vec<RoleButton>,
}

/// What the large button does.
#[derive(Clone, Debug, PartialEq)]
pub struct Primary {
    /// Its words.
    pub words: String,
    /// What a press sends; nothing while it only waits.
    pub command: Option<Command>,
}

/// Everything that the room shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Data {
    /// The sessions: name and length.
    pub sessions: Vec<String>,
    /// The riders.
    pub riders: Vec<String>,
    /// What is chosen.
    pub chosen: Chosen,
    /// The chosen session.
    pub session: SessionCard,
    /// The chosen rider's figures.
    pub figures: Vec<Figure>,
    /// A sentence about the computer's Bluetooth, where it matters.
    pub adapter: Option<String>,
    /// The devices.
    pub devices: Vec<DeviceLine>,
    /// What is missing before a start, what could not be read, what the core has to say: a sentence each.
    pub missing: Vec<String>,
    /// The large button, which has the keyboard at first.
    pub primary: Primary,
    /// A second way to begin, where there is one.
    pub secondary: Option<Primary>,
    /// What the pedals do now.
    pub pedals: &'static str,
}

impl Data {
    /// What the room shows at `now`. `trouble` says why the display is not kept awake, where it is not.
    pub fn new(
        now: Instant,
        snapshot: &Snapshot,
        shelf: &Shelf,
        chosen: Chosen,
        trouble: Option<&str>,
    ) -> Self {
        let plan = shelf.sessions.get(chosen.session).map(|(_, plan)| plan);
        let rider = shelf.riders.get(chosen.rider);
        let mut missing = snapshot.missing.clone();
        if plan.is_none() {
            missing.push("No session could be read: put one into the sessions folder.".to_owned());
        }
        missing.extend(shelf.troubles.iter().cloned());
        missing.extend(snapshot.notice.as_deref().map(str::to_owned));
        missing.extend(trouble.map(str::to_owned));
        let ready = plan.is_some() && snapshot.mode == Mode::Ready;
        let (primary, secondary) = buttons(snapshot, ready);
        Self {
            sessions: shelf
                .sessions
                .iter()
                .map(|(_, plan)| format!("{}, {}", plan.name, plan.length()))
                .collect(),
            riders: shelf
                .riders
                .iter()
                .map(|rider| rider.name.clone())
                .collect(),
            chosen,
            session: plan
                .map(|plan| card(plan, rider.map(AsRef::as_ref), chosen.mode))
                .unwrap_or_default(),
            figures: rider.map(|rider| figures(rider)).unwrap_or_default(),
            adapter: adapter(&snapshot.adapter),
            devices: snapshot
                .devices
                .iter()
                .map(|row| device(row, now))
                .collect(),
            missing,
            pedals: if ready && snapshot.waits_for_pedals {
                "Turn the pedals to begin."
            } else {
                ""
            },
            primary,
            secondary,
        }
    }
}

fn buttons(snapshot: &Snapshot, ready: bool) -> (Primary, Option<Primary>) {
    let used = |row: &&DeviceRow| row.used_for.contains(&Role::Trainer);
    let start = |words: &str| Primary {
        words: words.to_owned(),
        command: Some(Command::Start),
    };
    let waiting = |words: &str| Primary {
        words: words.to_owned(),
        command: None,
    };
    if snapshot.devices.iter().any(|row| used(&row)) {
        let primary = match (snapshot.mode, ready) {
            (Mode::Connecting, _) => waiting("Connecting…"),
            (_, true) if snapshot.waits_for_pedals => start("Start now"),
            (_, true) => Primary {
                words: "Ready to ride".to_owned(),
                command: Some(Command::StartWithPedals),
            },
            (_, false) => waiting("Not ready yet"),
        };
        return (primary, None);
    }
    let practice = snapshot
        .devices
        .iter()
        .find(|row| row.simulated && row.can.contains(&Role::Trainer));
    let without = ready.then(|| start("Start without a trainer"));
    match practice {
        Some(row) => (
            Primary {
                words: "Use the practice trainer (simulated)".to_owned(),
                command: Some(Command::Use(Role::Trainer, Some(row.id.clone()))),
            },
            without,
        ),
        None => (without.unwrap_or_else(|| waiting("Not ready yet")), None),
    }
}

fn card(plan: &Plan, rider: Option<&Rider>, mode: RideMode) -> SessionCard {
    let laps = laps(plan);
    let lanes = Lanes {
        plan,
        laps: &laps,
        rider,
        mode,
        trim_work: 0,
        trim_recovery: 0,
    };
    let rows = plan
        .blocks
        .iter()
        .zip(&laps)
        .map(|(block, lap)| timing_row(block, lap, &lanes))
        .collect();
    let whom = match plan.audience {
        Audience::Everyone => "",
        Audience::Newcomers => ", for newcomers",
    };
    let by = match plan.author.as_str() {
        "" => String::new(),
        author => format!("By {author}{whom}."),
    };
    let lengths = format!("Main part {}, whole {}.", plan.main_length(), plan.length());
    SessionCard {
        name: plan.name.clone(),
        purpose: plan.purpose.clone(),
        by,
        preview: preview::Data {
            lane: whole_lane(&lanes),
            whole: plan.length().seconds(),
            spoken: format!("{} blocks. {lengths}", plan.blocks.len()),
        },
        lengths,
        rows,
    }
}

/// The blocks as written, one after the other.
fn laps(plan: &Plan) -> Vec<Lap> {
    let mut start = Span::ZERO;
    let mut laps = Vec::with_capacity(plan.blocks.len());
    for (block, written) in plan.blocks.iter().enumerate() {
        laps.push(Lap {
            block,
            start,
            length: written.length,
        });
        start += written.length;
    }
    laps
}

/// The lane of the whole session: both sides of every boundary, the end of every build-up, and enough in between.
fn whole_lane(lanes: &Lanes) -> Vec<LanePoint> {
    let map = lanes
        .rider
        .map_or_else(EffortMap::default, |rider| rider.effort_map.clone());
    let mut points = Vec::new();
    for (index, lap) in lanes.laps.iter().enumerate() {
        let end = (lap.start + lap.length).less(Span(1));
        let mut moments = vec![lap.start, (lap.start + lanes.ramp(index, true)).min(end)];
        moments.extend((1..=8u64).map(|eighth| lap.start + Span(lap.length.0 / 8 * eighth)));
        moments.push(end);
        moments.sort_unstable();
        for at in moments.into_iter().filter(|&at| at <= end) {
            points.push(LanePoint {
                at: at.seconds(),
                edges: edges(lanes.at(at), lanes.tolerance(index), &map),
            });
        }
    }
    points
}

fn timing_row(block: &Block, lap: &Lap, lanes: &Lanes) -> TimingRow {
    let at = |share: f64| {
        let load = block.target.at(share)?;
        match lanes.load(load, block.kind) {
            Asked::Level(_, watts) => watts,
            Asked::AllOut | Asked::Open => None,
        }
    };
    let watts = match (at(0.0), at(1.0)) {
        (Some(from), Some(to)) if from == to => from.to_string(),
        (Some(from), Some(to)) => format!("{:.0} to {to}", from.0),
        _ => String::new(),
    };
    TimingRow {
        start: lap.start.to_string(),
        length: block.length.to_string(),
        block: words::block_name(block),
        load: words::target(block.target, lanes.mode)
            .trim_start_matches("at ")
            .trim_start_matches("from ")
            .to_owned(),
        watts,
        cadence: block.cadence.map_or_else(String::new, |band| {
            if band.low == band.high {
                format!("{:.0}", band.low.0)
            } else {
                format!("{:.0} to {:.0}", band.low.0, band.high.0)
            }
        }),
        position: match block.position {
            Position::OwnChoice => "",
            Position::Seated => "seated",
            Position::Standing => "standing",
            Position::Low => "low",
        },
    }
}

fn figures(rider: &Rider) -> Vec<Figure> {
    let figure = |what, key: &str, value: String| Figure {
        what,
        value,
        check_me: rider
            .unconfirmed
            .iter()
            .any(|unconfirmed| unconfirmed == key),
    };
    let mut figures = vec![
        figure("Threshold", "threshold", rider.threshold.to_string()),
        figure("Power cap", "power_cap", rider.power_cap.to_string()),
        figure("Sprint cap", "sprint_cap", rider.sprint_cap.to_string()),
    ];
    if let Some(ceiling) = rider.heart_rate_ceiling {
        let value = ceiling.to_string();
        figures.push(figure("Heart-rate limit", "heart_rate_ceiling", value));
    }
    let pause = match rider.pause_after {
        PauseAfter::Never => "no pause".to_owned(),
        PauseAfter::After(span) => format!("pause after {} s", span.whole_seconds()),
    };
    figures.push(figure("Pedals stopped", "pause_after", pause));
    figures
}

fn adapter(adapter: &Adapter) -> Option<String> {
    match adapter {
        Adapter::Listening | Adapter::Quiet => None,
        Adapter::Missing(words) | Adapter::Off(words) | Adapter::Forbidden(words) => {
            Some(words.clone())
        }
    }
}

fn device(row: &DeviceRow, now: Instant) -> DeviceLine {
    let name = if row.simulated {
        format!("{} (simulated)", row.name)
    } else {
        row.name.clone()
    };
    let link = match &row.link {
        Link::Heard => "on the air".to_owned(),
        Link::Connecting => "connecting".to_owned(),
        Link::Connected => "connected".to_owned(),
        Link::Lost => "link lost, trying again".to_owned(),
        Link::Unusable(why) => why.clone(),
    };
    let mut details = Vec::new();
    if !row.live.is_empty() {
        details.push(row.live.clone());
    }
    details.extend(row.battery.map(|percent| format!("battery {percent} %")));
    details.extend(row.rssi.map(|dbm| format!("signal {dbm} dBm")));
    details.extend(
        row.last_heard
            .map(|heard| match now.since(heard).whole_seconds() {
                0..=1 => "heard now".to_owned(),
                seconds => format!("heard {seconds} s ago"),
            }),
    );
    if row.bad_records > 0 {
        details.push(format!("{} unreadable records", row.bad_records));
    }
    let usable = !matches!(row.link, Link::Unusable(_));
    let roles = row
        .can
        .iter()
        .filter(|_| usable)
        .map(|&role| {
            let used = row.used_for.contains(&role);
            RoleButton {
                role,
                used,
                command: Command::Use(role, (!used).then(|| row.id.clone())),
                spoken: if used {
                    format!("Stop using {} as {}", row.name, role.key())
                } else {
                    format!("Use {} as {}", row.name, role.key())
                },
            }
        })
        .collect();
    DeviceLine {
        id: row.id.clone(),
        name,
        link,
        details: details.join(", "),
        roles,
    }
}
