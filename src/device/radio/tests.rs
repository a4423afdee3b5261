//! The radio's outer side, without Bluetooth: what it owns, how it orders events, what it does when it is full.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::gatt::Uuid16;
use std::sync::atomic::{AtomicU64, Ordering};

/// A radio with no thread behind it, and the ends that the thread would hold.
fn bare(requests: usize) -> (Radio, mpsc::Receiver<Request>, Outbox, blocking::Sender<()>) {
    let clock = Arc::new(AtomicU64::new(0));
    let now: Now = Arc::new(move || Instant(clock.fetch_add(10, Ordering::Relaxed)));
    let (outbox, events) = Outbox::new(Arc::clone(&now), Arc::new(|| ()));
    let (requests, inbox) = mpsc::channel(requests);
    let (end, ended) = blocking::channel();
    let radio = Radio {
        now,
        requests: Some(requests),
        events,
        next: None,
        refusals: VecDeque::new(),
        ended,
    };
    (radio, inbox, outbox, end)
}

fn device() -> DeviceId {
    DeviceId::new("F0:00:00:00:00:01")
}

#[test]
fn it_owns_all_but_the_practice_devices() {
    let (radio, _inbox, _outbox, _) = bare(1);
    for (id, owned) in [
        ("F0:00:00:00:00:01", true),
        ("practice", true),
        ("practice:trainer", false),
        ("Practice:trainer", true),
    ] {
        assert_eq!(radio.owns(&DeviceId::new(id)), owned, "{id}");
    }
}

#[test]
fn events_come_out_when_their_time_has_come_and_not_before() {
    let (mut radio, _inbox, outbox, _) = bare(1);
    outbox.answer(Event::Disconnected(device())); // Stamped 0.
    outbox.answer(Event::Adapter(Adapter::Quiet)); // Stamped 10.
    assert_eq!(
        radio.poll_event(Instant(5)),
        Some((Instant(0), Event::Disconnected(device())))
    );
    assert_eq!(radio.poll_event(Instant(5)), None);
    assert_eq!(radio.poll_timeout(), Some(Instant(10)));
    assert_eq!(
        radio.poll_event(Instant(10)),
        Some((Instant(10), Event::Adapter(Adapter::Quiet)))
    );
    assert_eq!(radio.poll_event(Instant(99)), None);
    assert_eq!(radio.poll_timeout(), None);
}

#[test]
fn a_request_too_many_is_answered_at_once_by_its_own_event() {
    let what = Uuid16(0x2AD9);
    let cases = [
        (
            Request::Connect(device()),
            Event::ConnectFailed(device(), crowded()),
        ),
        (
            Request::Read(device(), what),
            Event::Read(device(), what, Err(crowded())),
        ),
        (
            Request::Subscribe(device(), what),
            Event::Subscribed(device(), what, Err(crowded())),
        ),
        (
            Request::Write(device(), what, vec![0]),
            Event::Written(device(), what, Err(crowded())),
        ),
        (Request::Disconnect(device()), Event::Disconnected(device())),
    ];
    for (request, answer) in cases {
        let (mut radio, mut inbox, _outbox, _) = bare(1);
        radio.request(Instant(1), Request::Scan(true));
        radio.request(Instant(2), request);
        assert_eq!(inbox.try_recv().unwrap(), Request::Scan(true));
        assert!(inbox.try_recv().is_err());
        assert_eq!(radio.poll_timeout(), Some(Instant(2)));
        assert_eq!(radio.poll_event(Instant(1)), None);
        assert_eq!(radio.poll_event(Instant(2)), Some((Instant(2), answer)));
        assert_eq!(radio.poll_event(Instant(2)), None);
    }
}

#[test]
fn refusals_and_events_come_in_the_order_of_their_stamps() {
    let (mut radio, inbox, outbox, _) = bare(1);
    drop(inbox);
    outbox.answer(Event::Adapter(Adapter::Quiet)); // Stamped 0.
    outbox.answer(Event::Adapter(Adapter::Quiet)); // Stamped 10.
    radio.request(Instant(5), Request::Disconnect(device()));
    let stamps: Vec<u64> =
        std::iter::from_fn(|| radio.poll_event(Instant(100)).map(|(at, _)| at.0)).collect();
    assert_eq!(stamps, [0, 5, 10]);
}

#[test]
fn refusals_too_are_bounded() {
    let (mut radio, inbox, _outbox, _) = bare(1);
    drop(inbox);
    for n in 0..REFUSALS as u64 + 10 {
        radio.request(Instant(n), Request::Connect(device()));
    }
    let count = std::iter::from_fn(|| radio.poll_event(Instant(9999))).count();
    assert_eq!(count, REFUSALS);
}

#[tokio::test]
async fn more_links_than_there_is_room_for_are_refused_and_the_first_keep_theirs() {
    let (outbox, mut events) = Outbox::new(Arc::new(|| Instant(0)), Arc::new(|| ()));
    let (orders, mut listener) = mpsc::channel(MAILBOX);
    let (notices, _) = broadcast::channel(4);
    let mut links = Links {
        mailboxes: HashMap::new(),
        tasks: JoinSet::new(),
        orders,
        notices,
        outbox,
    };
    for n in 0..=LINKS {
        links.pass(Request::Connect(DeviceId::new(format!("{n}"))));
    }
    assert_eq!(
        events.try_recv().unwrap().1,
        Event::ConnectFailed(DeviceId::new(format!("{LINKS}")), crowded())
    );
    assert_eq!(links.mailboxes.len(), LINKS);
    // Each link that has room looks for its own device.
    let mut sought = Vec::new();
    for _ in 0..LINKS {
        match listener.recv().await {
            Some(Order::Seek(device, _)) => sought.push(device.as_str().parse::<usize>().unwrap()),
            _ => panic!("a link asked for something else"),
        }
    }
    sought.sort_unstable();
    assert_eq!(sought, (0..LINKS).collect::<Vec<_>>());
}

#[tokio::test]
async fn without_a_link_operations_fail_as_lost_and_a_close_is_answered() {
    let (outbox, mut events) = Outbox::new(Arc::new(|| Instant(0)), Arc::new(|| ()));
    let (orders, _listener) = mpsc::channel(MAILBOX);
    let (notices, _) = broadcast::channel(4);
    let mut links = Links {
        mailboxes: HashMap::new(),
        tasks: JoinSet::new(),
        orders,
        notices,
        outbox,
    };
    let what = Uuid16(0x2AD9);
    links.pass(Request::Write(device(), what, vec![5]));
    links.pass(Request::Read(device(), what));
    links.pass(Request::Subscribe(device(), what));
    links.pass(Request::Disconnect(device()));
    for answer in [
        Event::Written(device(), what, Err(Failure::LinkLost)),
        Event::Read(device(), what, Err(Failure::LinkLost)),
        Event::Subscribed(device(), what, Err(Failure::LinkLost)),
        Event::Disconnected(device()),
    ] {
        assert_eq!(events.recv().await.unwrap().1, answer);
    }
}

#[tokio::test]
async fn connections_asked_for_twice_are_answered_twice_and_a_close_cancels_them() {
    let (outbox, mut events) = Outbox::new(Arc::new(|| Instant(0)), Arc::new(|| ()));
    let (orders, mut listener) = mpsc::channel(MAILBOX);
    let (notices, _) = broadcast::channel(4);
    let mut links = Links {
        mailboxes: HashMap::new(),
        tasks: JoinSet::new(),
        orders,
        notices,
        outbox,
    };
    links.pass(Request::Connect(device()));
    links.pass(Request::Connect(device()));
    let Some(Order::Seek(sought, reply)) = listener.recv().await else {
        panic!("the link did not look for its device");
    };
    assert_eq!(sought, device());
    tokio::task::yield_now().await;
    let _ = reply.send(Err(Failure::Other("off".to_owned())));
    for _ in 0..2 {
        assert_eq!(
            events.recv().await.unwrap().1,
            Event::ConnectFailed(device(), Failure::Other("off".to_owned()))
        );
    }
    links.pass(Request::Connect(device()));
    links.pass(Request::Disconnect(device()));
    assert_eq!(
        events.recv().await.unwrap().1,
        Event::Disconnected(device()),
        "one answer for both: the link's end"
    );
}
