//! What the world tells the core: devices, the writer, and gaps in time.

use super::{Asked, Core, GAP, brake};
use crate::device::{Adapter, DeviceId, Event};
use crate::engine::command::Role;
use crate::engine::input::Recorder;
use crate::engine::links::LinkEvent;
use crate::engine::notices::Urgency;
use crate::engine::snapshot::RecordState;
use crate::gatt::{Status, Uuid16, uuid16};
use crate::ride::{Cause, Facts, PauseCause};
use crate::time::{Instant, Span};

impl Core {
    /// The program was held up: the clock stood from the last input on.
    pub(super) fn notice_gap(&mut self, now: Instant) {
        if self.mode.runs() && now.since(self.handled) > GAP {
            let gap = now.since(self.handled);
            let at = self.handled;
            self.to_paused(now, at, PauseCause::Gap);
            self.stand(at, &Facts::default());
            let detail = kept!(
                "Nothing was handled for {seconds:.1} s: the clock stood. Turn the pedals to go on.",
                seconds = gap.seconds()
            );
            self.event(now, "gap", &detail);
            self.say(now, detail);
        }
    }

    /// A value that grew stale since the last input stood only until then, however late this input comes.
    pub(super) fn age_readings(&mut self, now: Instant) {
        let mut from = self.handled;
        while let Some(at) = self.links.next_ageing(from).filter(|at| *at <= now) {
            self.close_seconds(at);
            let facts = self.facts(at);
            self.hold_rises(at, &facts);
            self.stand(at, &facts);
            from = at;
        }
    }

    pub(super) fn slept(&mut self, now: Instant, span: Span) {
        // The monotonic clock stood while the wall clock went on.
        self.epoch_ms = self
            .epoch_ms
            .saturating_add(i64::try_from(span.0 / 1_000).unwrap_or(0));
        // Readings that seem fresh are from before the sleep, and what the brake holds is not known any more.
        self.links.lose_readings();
        self.asked = Asked::Nothing;
        self.brake_interrupted();
        if let Some(ride) = &mut self.ride {
            ride.runner.brake_unknown();
        }
        if self.mode.runs() && span > GAP {
            self.to_paused(now, now, PauseCause::Gap);
            if let Some(ride) = &mut self.ride {
                ride.tally.slept(span);
            }
            let detail =
                kept!("The computer slept for {span}: the clock stood. Turn the pedals to go on.");
            self.event(now, "gap", &detail);
            self.say(now, detail);
        }
    }

    pub(super) fn recorder(&mut self, now: Instant, report: Recorder) {
        let rows = self.ride.as_ref().map_or(0, |ride| ride.rows.written());
        match report {
            Recorder::Began(folder) => {
                self.folder.clone_from(&folder);
                self.record = RecordState::Writing(folder, rows);
            }
            Recorder::Trouble(why) => {
                self.say_first(now, why.clone(), Urgency::Acting);
                self.record = RecordState::Trouble(why);
            }
            Recorder::Recovered => {
                self.record = RecordState::Writing(self.folder.clone(), rows);
                self.say(
                    now,
                    entry!("The recording is on the disk again, and nothing of it was lost.")
                        .to_owned(),
                );
            }
            Recorder::Dropped(count) => {
                if let Some(ride) = &mut self.ride {
                    ride.tally.lose(count);
                }
                self.say(
                    now,
                    kept!("{count} entries of the recording were lost: the disk did not keep up."),
                );
            }
            Recorder::Forgotten(why) => self.say(now, why),
            Recorder::Closed(folder) => self.record = RecordState::Closed(folder, rows),
        }
    }

    pub(super) fn device(&mut self, now: Instant, event: Event) {
        match &event {
            Event::Connected(id, characteristics) => {
                self.links.expect(id, self.remembered_services(id));
                if !self.links.doubts(id, characteristics) {
                    self.recognise(now, id, characteristics);
                }
            }
            Event::Adapter(adapter) => self.adapter_changed(now, adapter.clone()),
            Event::Heard(heard) => self.links.heard(now, heard.clone()),
            Event::Lost(count) => {
                let detail = kept!("{count} reports of devices were lost: a buffer was full.");
                self.event(now, "reports-lost", &detail);
            }
            Event::Written(id, characteristic, result) if self.is_control(id, *characteristic) => {
                self.control
                    .written(now, result.clone().map_err(brake::write_failure));
            }
            Event::Subscribed(id, characteristic, result)
                if self.is_control(id, *characteristic) =>
            {
                self.control
                    .subscribed(now, result.clone().map_err(brake::write_failure));
            }
            Event::Notified(id, characteristic, bytes)
                if self.links.used_for(Role::Trainer) == Some(id) =>
            {
                match *characteristic {
                    uuid16::CONTROL_POINT => self.control.indicated(now, bytes),
                    uuid16::FITNESS_MACHINE_STATUS => {
                        // A status that cannot be read says nothing; the links count it.
                        if let Ok(status) = Status::decode(bytes) {
                            self.control.status(now, &status);
                        }
                    }
                    _ => {}
                }
            }
            _ => {}
        }
        self.tend_training(now, &event);
        let changed = self.links.handle(now, &event);
        if let Some(event) = changed {
            self.link_changed(now, &event);
        }
        if matches!(&event, Event::Notified(id, ..) if self.links.used_for(Role::Trainer) == Some(id))
        {
            self.trainer_reported(now);
        }
    }

    fn is_control(&self, id: &DeviceId, characteristic: Uuid16) -> bool {
        characteristic == uuid16::CONTROL_POINT && self.links.used_for(Role::Trainer) == Some(id)
    }

    /// Whether the rider should hear of the radio: before a ride, and in one that uses it.
    fn radio_matters(&self) -> bool {
        let real = |role: &Role| {
            let device = self.links.used_for(*role);
            device.is_some_and(|id| !self.links.is_simulated(id))
        };
        !self.mode.under_way() || Role::ALL.iter().any(real)
    }

    fn adapter_changed(&mut self, now: Instant, adapter: Adapter) {
        if let Adapter::Missing(why) | Adapter::Off(why) | Adapter::Forbidden(why) = &adapter
            && self.adapter != adapter
            && self.radio_matters()
        {
            self.say(now, why.clone());
        }
        self.adapter = adapter;
    }

    pub(super) fn link_changed(&mut self, now: Instant, event: &LinkEvent) {
        let (LinkEvent::Up(id)
        | LinkEvent::Lost(id, _)
        | LinkEvent::Unusable(id, _)
        | LinkEvent::Control(id)
        | LinkEvent::NoControl(id, _)) = event;
        let trainer = self.links.used_for(Role::Trainer) == Some(id);
        let name = self.links.name(id);
        match event {
            LinkEvent::Up(_) => {
                self.event(now, "connected", &name);
                if !self.keep_to_what_it_gives(now, id) {
                    return;
                }
                if trainer {
                    self.trainer_up(now, id);
                }
            }
            LinkEvent::Lost(_, why) => {
                self.event(now, "link-lost", why);
                if trainer {
                    self.control.link_down(now);
                    self.lose_brake(now, Cause::LinkLost);
                }
                // While riding, what a lost trainer may do to the legs matters more than the next try.
                if !(trainer && self.mode.under_way()) {
                    self.say(now, why.clone());
                }
            }
            LinkEvent::Control(_) if trainer => self.trainer_up(now, id),
            LinkEvent::NoControl(_, why) if trainer => {
                let words = brake::no_control(why);
                self.event(now, "no-control-point", &words);
                self.say(now, words);
            }
            LinkEvent::Control(_) | LinkEvent::NoControl(..) => {}
            LinkEvent::Unusable(_, why) => {
                self.event(now, "unusable", why);
                self.say(now, why.clone());
            }
        }
    }
}
