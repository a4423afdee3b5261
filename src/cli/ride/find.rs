//! The devices asked for by name or address: heard, taken and connected, or a sentence that says why not.

use std::time::Duration;

use super::Line;
use crate::device::name::{device_at, is_called, safe_name};
use crate::device::{Adapter, DeviceId};
use crate::engine::command::Role;
use crate::engine::drive::Engine;
use crate::engine::snapshot::{DeviceRow, Link};
use crate::engine::{Command, Snapshot};
use crate::ride::Mode;
use crate::text;
use crate::time::{Instant, Span};

/// A device asked for by name or address must be heard and connected within this time.
const FIND_WITHIN: Span = Span::from_seconds(45);

/// A remembered sensor that nobody asked for is listened for so long, and gets so long to be connected.
const HEARD_WITHIN: Span = Span::from_seconds(8);
const HOPED_WITHIN: Span = Span::from_seconds(20);

/// An adapter that is missing or off gets so long to appear: its service may just be starting.
const ADAPTER_WITHIN: Span = Span::from_seconds(10);

/// One device asked for.
struct Sought<'a> {
    role: Role,
    /// As the rider wrote it.
    text: &'a str,
    /// Which device it is, once that is known: an address says so at once, a name when it is heard.
    device: Option<DeviceId>,
}

/// Waits until every device asked for is connected.
///
/// # Errors
/// A sentence: which device is missing and what to do.
pub(super) fn find(
    engine: &mut Engine,
    asked: &[(Role, &str)],
    hoped: &[Role],
    line: &mut Line,
) -> Result<(), String> {
    if asked.is_empty() && hoped.is_empty() {
        return Ok(());
    }
    engine.command(Command::Scan(true));
    let mut sought: Vec<Sought<'_>> = Vec::new();
    for &(role, text) in asked {
        let device = device_at(text);
        if let Some(device) = &device {
            engine.command(Command::Use(role, Some(device.clone())));
        }
        sought.push(Sought { role, text, device });
    }
    let began = engine.clock().now();
    let mut with_adapter = began;
    let mut listening = true;
    loop {
        std::thread::sleep(Duration::from_millis(100));
        let snapshot = engine.snapshot();
        if snapshot.mode != Mode::Idle {
            line.show(&snapshot);
        }
        for one in sought.iter_mut().filter(|one| one.device.is_none()) {
            if let Some(row) = heard(&snapshot, one) {
                engine.command(Command::Use(one.role, Some(row.id.clone())));
                one.device = Some(row.id.clone());
            }
        }
        let waited = engine.clock().now().since(began);
        let all_taken = hoped
            .iter()
            .all(|role| taken(&snapshot, *role).is_some() || waited > HEARD_WITHIN);
        let all_heard = all_taken
            && sought
                .iter()
                .all(|one| row(&snapshot, one).is_some_and(|row| row.rssi.is_some()));
        if listening && all_heard {
            // Listening slows the making of links down.
            listening = false;
            engine.command(Command::Scan(false));
        }
        let mut connected = true;
        for one in &sought {
            match row(&snapshot, one).map(|row| &row.link) {
                Some(Link::Connected)
                    if row(&snapshot, one).is_some_and(|row| row.used_for.contains(&one.role)) => {}
                Some(Link::Unusable(why)) => return Err(why.clone()),
                _ => connected = false,
            }
        }
        for role in hoped {
            let link = taken(&snapshot, *role).map(|row| &row.link);
            connected &= match link {
                Some(Link::Connected) => true,
                Some(_) => waited > HOPED_WITHIN,
                None => waited > HEARD_WITHIN,
            };
        }
        if connected {
            tell_missed(&snapshot, hoped);
            if listening {
                engine.command(Command::Scan(false));
            }
            return Ok(());
        }
        if engine.is_over() {
            return Err(word!("Stopped before the ride began.").to_owned());
        }
        let now = engine.clock().now();
        check_adapter(&snapshot, now, &mut with_adapter)?;
        if now.since(began) > FIND_WITHIN {
            return Err(missing(&snapshot, &sought, line));
        }
    }
}

/// The device in use for a role.
fn taken(snapshot: &Snapshot, role: Role) -> Option<&DeviceRow> {
    let mut rows = snapshot.devices.iter();
    rows.find(|row| row.used_for.contains(&role))
}

/// Says which remembered devices the ride begins without.
fn tell_missed(snapshot: &Snapshot, hoped: &[Role]) {
    for role in hoped {
        let up = taken(snapshot, *role).is_some_and(|row| row.link == Link::Connected);
        if !up {
            crate::cli::print(&say!(
                "The {device} of the last ride was not found: the ride begins without it. `--{option} none` does not wait for it.",
                device = text::word(role.words()),
                option = role.key()
            ));
        }
    }
}

/// The device heard under the name: where several have it, one that can do what it is wanted for.
fn heard<'s>(snapshot: &'s Snapshot, one: &Sought<'_>) -> Option<&'s DeviceRow> {
    let named = || {
        snapshot.devices.iter().filter(|row| {
            is_called(&row.name, one.text) || row.id.as_str().eq_ignore_ascii_case(one.text)
        })
    };
    named()
        .find(|row| row.can.contains(&one.role))
        .or_else(|| named().next())
}

fn row<'s>(snapshot: &'s Snapshot, one: &Sought<'_>) -> Option<&'s DeviceRow> {
    let device = one.device.as_ref()?;
    snapshot.devices.iter().find(|row| row.id == *device)
}

/// Nothing can be found without an adapter, so it is not waited for as long as a device is.
fn check_adapter(
    snapshot: &Snapshot,
    now: Instant,
    with_adapter: &mut Instant,
) -> Result<(), String> {
    match &snapshot.adapter {
        Adapter::Missing(why) | Adapter::Off(why) | Adapter::Forbidden(why) => {
            if now.since(*with_adapter) > ADAPTER_WITHIN {
                return Err(say!(
                    "{why} The ride did not begin; `--trainer none` rides without devices.",
                    why = text::translated(why)
                ));
            }
        }
        Adapter::Listening | Adapter::Quiet => *with_adapter = now,
    }
    Ok(())
}

/// What is said when the time is over.
fn missing(snapshot: &Snapshot, sought: &[Sought<'_>], line: &Line) -> String {
    let words = |never_heard: bool| {
        let of_them: Vec<_> = sought
            .iter()
            .filter(|one| {
                let row = row(snapshot, one);
                let up = row.is_some_and(|row| row.link == Link::Connected);
                !up && row.is_none_or(|row| row.rssi.is_none()) == never_heard
            })
            .map(|one| format!("{} ({})", safe_name(one.text), one.role.key()))
            .collect();
        (!of_them.is_empty()).then(|| of_them.join(", "))
    };
    let seconds = FIND_WITHIN.whole_seconds();
    let mut sentences = Vec::new();
    if let Some(devices) = words(true) {
        sentences.push(say!(
            "Not heard within {seconds} s: {devices}. Wake the device up, bring it near, and look with `stillroad devices`.",
            seconds,
            devices
        ));
    }
    if let Some(devices) = words(false) {
        sentences.push(say!(
            "Heard, but not connected within {seconds} s: {devices}. {notice} Close other programs and displays that use it, or \
             switch it off and on.",
            seconds,
            devices,
            notice = text::translated(line.notice())
        ));
    }
    sentences.push(word!("The ride did not begin.").to_owned());
    sentences.join(" ")
}
