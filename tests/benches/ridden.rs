//! Rides in virtual time for the benchmarks: a session of as many blocks as wanted, ridden on the practice trainer.

use std::sync::Arc;

use stillroad::device::Backend;
use stillroad::device::practice::{Device, Practice, PracticeConfig};
use stillroad::engine::{Choice, Command, Role, World};
use stillroad::plan::{self, Plan};
use stillroad::ride::{Mode, RideMode};
use stillroad::rider::Rider;
use stillroad::time::{Instant, Span};

/// Work and recovery in turn, of one length, with a warm-up before and a cool-down after them.
pub fn session(name: &str, blocks: usize, seconds_each: u64) -> Arc<Plan> {
    use std::fmt::Write as _;

    let mut text =
        format!("format = 1\nname = \"{name}\"\npurpose = \"For a benchmark and not for legs.\"\n");
    for n in 0..blocks {
        let (kind, effort) = match n {
            0 => ("warm-up", 3),
            n if n + 1 == blocks => ("cool-down", 2),
            n if n % 2 == 1 => ("hold", 6),
            _ => ("recovery", 4),
        };
        let (minutes, seconds) = (seconds_each / 60, seconds_each % 60);
        writeln!(
            text,
            "[[block]]\nkind = \"{kind}\"\ntime = \"{minutes}:{seconds:02}\"\neffort = {effort}\ncadence = [80, 90]"
        )
        .expect("a string takes every write");
    }
    let reading = plan::read(&text);
    Arc::new(
        reading
            .plan
            .unwrap_or_else(|| panic!("{:?}", reading.problems)),
    )
}

/// The ride `after` its first second, which what is kept of it passes through `keep`.
pub fn ridden(plan: &Arc<Plan>, after: Span) -> World<'static> {
    let rider = Rider::default();
    let config = PracticeConfig::for_rider(rider.threshold, rider.w_prime);
    let backends: Vec<Box<dyn Backend>> = vec![Box::new(Practice::new(config))];
    // What would go to the disk is let go of, as the writer does once it is written.
    let mut world = World::new(0, backends, |_, _| {});
    world.command(Command::Choose(Box::new(Choice {
        plan: Arc::clone(plan),
        rider: Arc::new(rider),
        mode: RideMode::TargetPower,
    })));
    world.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
    world.command(Command::Use(Role::Heart, Some(Device::Heart.id())));
    let minute = Instant(60_000_000);
    assert!(world.run_while(minute, |core| core.mode() != Mode::Ready));
    world.command(Command::StartWithPedals);
    assert!(world.run_while(minute, |core| core.mode() != Mode::Riding));
    let until = world.now() + after;
    world.run_until(until);
    assert_eq!(world.core().mode(), Mode::Riding, "it rides on");
    world
}
