//! The sessions and the rider of the snapshots made by hand.

use std::sync::Arc;

use stillroad::engine::snapshot::Lap;
use stillroad::plan::{
    Audience, Block, Brake, CadenceBand, Kind, Load, Plan, Position, Repeat, Target,
};
use stillroad::rider::Rider;
use stillroad::text::Language;
use stillroad::time::Span;
use stillroad::units::{Bpm, Effort, Rpm, Watts};

fn block(name: &str, kind: Kind, seconds: u64, target: Target) -> Block {
    Block {
        name: name.to_owned(),
        kind,
        length: Span::from_seconds(seconds),
        target,
        cadence: Some(CadenceBand {
            low: Rpm(80.0),
            high: Rpm(90.0),
        }),
        position: Position::Seated,
        build_up: None,
        brake: Brake::Held,
        stretch: true,
        cut: kind == Kind::Hold,
        main: kind.is_work() || kind == Kind::Recovery,
        repeat: None,
        cues: Vec::new(),
    }
}

fn effort(x: f64) -> Target {
    Target::Steady(Load::Effort(Effort(x)))
}

/// Ten minutes of warm-up, four holds of seven with recoveries of three, six of cool-down: 53 minutes.
pub fn steady_plan() -> Plan {
    let mut blocks = vec![block(
        "Warm-up",
        Kind::WarmUp,
        600,
        Target::Line(Load::Effort(Effort(2.0)), Load::Effort(Effort(5.0))),
    )];
    for number in 1..=4 {
        let mut hold = block("Hold", Kind::Hold, 420, effort(7.0));
        hold.repeat = Some(Repeat { number, of: 4 });
        blocks.push(hold);
        if number < 4 {
            blocks.push(block("Recovery", Kind::Recovery, 180, effort(4.0)));
        }
    }
    blocks.push(block("Cool-down", Kind::CoolDown, 360, effort(3.0)));
    Plan {
        name: "Four by seven".into(),
        purpose: "Steady work just under the threshold, with time to breathe between.".into(),
        author: "A coach".into(),
        language: Language::English,
        audience: Audience::Everyone,
        test: None,
        blocks,
        source: Arc::from(""),
        fitted: None,
    }
}

/// Short sprints, all out and free, and a block with nothing asked.
pub fn sprint_plan() -> Plan {
    let mut blocks = vec![block("Warm-up", Kind::WarmUp, 600, effort(3.0))];
    for number in 1..=6 {
        let mut sprint = block("Sprint", Kind::Sprint, 12, effort(10.0));
        sprint.brake = Brake::Free;
        sprint.position = Position::Standing;
        sprint.repeat = Some(Repeat { number, of: 6 });
        blocks.push(sprint);
        blocks.push(block("Recovery", Kind::Recovery, 48, effort(4.0)));
    }
    blocks.push(block("Free riding", Kind::Free, 300, Target::None));
    blocks.push(block("Cool-down", Kind::CoolDown, 300, effort(2.5)));
    Plan {
        name: "Six sprints".into(),
        purpose: "Short and sharp.".into(),
        audience: Audience::Newcomers,
        blocks,
        ..steady_plan()
    }
}

pub fn laps(plan: &Plan) -> Arc<[Lap]> {
    let mut start = Span::ZERO;
    plan.blocks
        .iter()
        .enumerate()
        .map(|(index, block)| {
            let lap = Lap {
                block: index,
                start,
                length: block.length,
            };
            start += block.length;
            lap
        })
        .collect()
}

pub fn rider() -> Rider {
    Rider {
        name: "Robin".into(),
        threshold: Watts(286.0),
        power_cap: Watts(350.0),
        sprint_cap: Watts(700.0),
        max_heart_rate: Some(Bpm(176.0)),
        unconfirmed: vec!["power_cap".into()],
        ..Rider::default()
    }
}
