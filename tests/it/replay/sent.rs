//! What is sent of a recording: the same ride, without whom it tells of.

use std::fs;
use std::io::Read;

use stillroad::cli::export::export;
use stillroad::device::{Adapter, Advertisement, DeviceId, Event, Failure};
use stillroad::engine::Command;
use stillroad::engine::input::{Input, Recorder};
use stillroad::engine::replay::LogEnd;
use stillroad::memory::Memory;
use stillroad::record::{Row, decode};
use stillroad::ride::RideMode;
use stillroad::store::recording::Recording;

use super::log::{recorded, replayed};
use crate::world::{Fake, Knobs, Ride, session};

const NEIGHBOUR: &str = "D4:3A:2E:10:9F:C7";
const OTHERS_NAME: &str = "Ådne's strap";
const NAME: &str = "Ingeborg";

/// A ride among things that tell of people: a rider's name, a neighbour's strap, what is remembered, paths, a day.
fn telling() -> (Ride, String) {
    let plan = session(
        "# Ingeborg's own\n[[block]]\nkind = \"hold\"\ntime = \"0:20\"\neffort = 6\nname = \"For Ingeborg\"\n",
    );
    let rider = stillroad::rider::read(&format!(
        "name = \"{NAME}\"\nthreshold = 200\npower_cap = 250\nsprint_cap = 400\nw_prime = 20000\n"
    ))
    .0
    .unwrap();
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::new(vec![crate::world::tap(fake.clone())]);
    let mut memory = Memory {
        cautions_seen: Some("2025-12-31".to_owned()),
        control_held: vec![fake.id().to_string()],
        ..Memory::default()
    };
    memory.trainer(NEIGHBOUR).name = OTHERS_NAME.to_owned();
    memory.trainer(NEIGHBOUR).spin_down = Some("2025-11-30T17:00:00Z".to_owned());
    memory
        .devices
        .insert("heart".to_owned(), NEIGHBOUR.to_owned());
    memory
        .services
        .insert(NEIGHBOUR.to_owned(), vec!["180d".to_owned()]);
    ride.input(Input::Remembered(Box::new(memory)));
    ride.input(Input::Device(Event::Heard(Advertisement {
        device: DeviceId::new(NEIGHBOUR),
        name: Some(OTHERS_NAME.to_owned()),
        services: vec![],
        machine_data: None,
        rssi: Some(-71),
        simulated: false,
    })));
    let of_the_system = format!(
        "org.bluez.Error on /org/bluez/hci0/dev_{} for {OTHERS_NAME}, see /home/{NAME}/log",
        NEIGHBOUR.replace(':', "_").to_lowercase()
    );
    ride.choose(&plan, &rider, RideMode::TargetPower);
    ride.command(Command::Use(
        stillroad::engine::Role::Heart,
        Some(DeviceId::new(NEIGHBOUR)),
    ));
    ride.input(Input::Device(Event::ConnectFailed(
        DeviceId::new(NEIGHBOUR),
        Failure::Other(of_the_system.clone()),
    )));
    ride.input(Input::Device(Event::Adapter(Adapter::Off(of_the_system))));
    ride.command(Command::Use(
        stillroad::engine::Role::Trainer,
        Some(fake.id()),
    ));
    ride.start();
    ride.input(Input::Recorder(Recorder::Began(format!(
        "/home/{NAME}/rides/2026-01-01 Trial"
    ))));
    ride.input(Input::Recorder(Recorder::Trouble(format!(
        "/home/{NAME}/rides is full. Make room."
    ))));
    ride.to_the_end(90.0);
    (ride, fake.id().to_string())
}

/// The ways in which a text may stand in a file of ours: as it is, without its marks, in hexadecimal, and as the numbers
/// of its octets in JSON, which octets of an address may also be from behind.
fn spellings(secret: &str) -> Vec<String> {
    let bare: String = secret
        .chars()
        .filter(|letter| letter.is_alphanumeric())
        .collect();
    let numbers = |bytes: &[u8]| {
        let numbers: Vec<_> = bytes.iter().map(u8::to_string).collect();
        numbers.join(",")
    };
    let hex: String = secret.bytes().map(|byte| format!("{byte:02x}")).collect();
    let escaped: String = secret
        .chars()
        .map(|letter| match letter {
            'Å' => "\\u00c5".to_owned(),
            other => other.to_string(),
        })
        .collect();
    let mut all = vec![
        secret.to_owned(),
        secret.replace(':', "_"),
        secret.replace(':', "-"),
        bare,
        hex,
        escaped,
        numbers(secret.as_bytes()),
    ];
    let octets: Option<Vec<u8>> = secret
        .split(':')
        .map(|pair| u8::from_str_radix(pair, 16).ok())
        .collect();
    if let Some(mut octets) = octets.filter(|octets| octets.len() == 6) {
        all.push(numbers(&octets));
        octets.reverse();
        all.push(numbers(&octets));
        all.push(octets.iter().map(|octet| format!("{octet:02x}")).collect());
    }
    all
}

#[test]
fn a_short_name_goes_from_words_and_not_from_keys() {
    for name in ["Tim", "Bo", "Eve"] {
        let home = tempfile::tempdir().unwrap();
        let plan = session(&format!(
            "# for {name}, knee trouble\n# {name}s knee, {name}'s fan\n[[block]]\nkind = \"hold\"\ntime = \"0:10\"\neffort = 6\nname = \"For {name}\"\n"
        ));
        let text = format!(
            "name = \"{name}\"\nthreshold = 200\npower_cap = 250\nsprint_cap = 400\nw_prime = 20000\n"
        );
        let rider = stillroad::rider::read(&text).0.unwrap();
        let fake = Fake::new(Knobs::default());
        let mut ride = Ride::on(&fake, &plan, &rider, RideMode::TargetPower);
        ride.start();
        ride.to_the_end(60.0);
        let folder = recorded(&ride, &home.path().join("rides")).remove(0);
        let to = home.path().join("sent.zip");
        export(&Recording::open(&folder).unwrap(), &to, false).unwrap();
        let sent = Recording::open(&to).unwrap();
        let session = sent.bytes("session.toml").unwrap().unwrap();
        let session = String::from_utf8(session).unwrap();
        assert!(
            session.contains("# for Rider, knee") && session.contains("\"For Rider\""),
            "{session}"
        );
        assert!(session.contains("# Riders knee, Rider's fan"), "{session}");
        assert!(session.contains("time = \"0:10\""), "{session}");
        assert_eq!(replayed(&to).differences.count, 0);
    }
}

/// A short ride of this rider with this device heard, recorded; the session's text is given.
fn ridden_among(
    home: &std::path::Path,
    text: &str,
    name: &str,
    device: &str,
) -> std::path::PathBuf {
    let rider = format!(
        "name = \"{name}\"\nthreshold = 200\npower_cap = 250\nsprint_cap = 400\nw_prime = 20000\n"
    );
    let rider = stillroad::rider::read(&rider).0.unwrap();
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::new(vec![crate::world::tap(fake.clone())]);
    ride.input(Input::Device(Event::Heard(Advertisement {
        device: DeviceId::new(NEIGHBOUR),
        name: Some(device.to_owned()),
        services: vec![],
        machine_data: None,
        rssi: None,
        simulated: false,
    })));
    ride.choose(&session(text), &rider, RideMode::TargetPower);
    ride.command(Command::Use(
        stillroad::engine::Role::Trainer,
        Some(fake.id()),
    ));
    ride.start();
    ride.to_the_end(60.0);
    recorded(&ride, &home.join("rides")).remove(0)
}

#[test]
fn the_words_of_a_name_go_too_and_common_ones_stay() {
    let home = tempfile::tempdir().unwrap();
    let text = "# Tims legs, not Timsons; ask Ingeborg or Ådne about the trainer\n[[block]]\nkind = \"hold\"\n\
                time = \"0:10\"\neffort = 6\nname = \"Tims first\"\nposition = \"seated\"\n";
    for device in ["Tims Trainer", "Tims seated trainer"] {
        let folder = ridden_among(home.path(), text, "Ingeborg Ådne Berg", device);
        let to = home.path().join(format!("{device}.zip"));
        export(&Recording::open(&folder).unwrap(), &to, false).unwrap();
        let sent = Recording::open(&to).unwrap();
        let session = String::from_utf8(sent.bytes("session.toml").unwrap().unwrap()).unwrap();
        // "Seated" is a word of the format: where it would go from there, only whole names go.
        if device == "Tims Trainer" {
            assert!(
                !session.contains("Tims ") && !session.contains("Ådne"),
                "{session}"
            );
            assert!(
                session.contains("Timsons") && session.contains("the trainer"),
                "{session}"
            );
        }
        assert!(session.contains("position = \"seated\""), "{session}");
        assert_eq!(replayed(&to).differences.count, 0);
        fs::remove_dir_all(home.path().join("rides")).unwrap();
    }
}

#[test]
fn nothing_is_sent_where_a_name_would_still_be_read() {
    // TOML's own spelling of a letter by its number (toml.io, v1.0.0, Strings) hides a name from a search of the text.
    for hidden in ["For Ingeb\\u006frg", "T\\u0069ms Trainer again"] {
        let home = tempfile::tempdir().unwrap();
        let text = format!(
            "[[block]]\nkind = \"hold\"\ntime = \"0:10\"\neffort = 6\nname = \"{hidden}\"\n"
        );
        let folder = ridden_among(home.path(), &text, NAME, "Tims Trainer");
        let to = home.path().join("sent.zip");
        let told = export(&Recording::open(&folder).unwrap(), &to, false).unwrap_err();
        assert!(
            told.contains("nothing was exported") && told.contains("Take the name out"),
            "{told}"
        );
        assert!(!to.exists());
    }
}

#[test]
fn what_is_sent_tells_of_nobody_and_is_the_same_ride() {
    let home = tempfile::tempdir().unwrap();
    let (ride, trainer) = telling();
    let folder = recorded(&ride, &home.path().join("rides")).remove(0);
    let before = replayed(&folder);
    assert_eq!(before.differences.count, 0, "{:?}", before.differences);
    let to = home.path().join("sent.zip");
    export(&Recording::open(&folder).unwrap(), &to, false).unwrap();

    let mut archive = zip::ZipArchive::new(fs::File::open(&to).unwrap()).unwrap();
    let mut all = String::new();
    for at in 0..archive.len() {
        let mut entry = archive.by_index(at).unwrap();
        all += &entry.name().unwrap();
        entry.read_to_string(&mut all).unwrap();
    }
    let all = all.to_lowercase();
    let mut looked_for = 0;
    for secret in [
        NEIGHBOUR,
        OTHERS_NAME,
        NAME,
        &trainer,
        "/home/",
        "2026-01-0",
        "2025-1",
    ] {
        for spelling in spellings(secret) {
            looked_for += 1;
            assert!(
                !all.contains(&spelling.to_lowercase()),
                "{secret} as {spelling}"
            );
        }
    }
    assert!(looked_for > 30);
    // They were there: the search finds them in the recording itself.
    let original = fs::read_to_string(folder.join("raw.csv")).unwrap();
    for secret in [NEIGHBOUR, OTHERS_NAME, NAME, &trainer, "/home/"] {
        assert!(original.contains(secret), "{secret}");
    }

    let after = replayed(&to);
    assert_eq!(after.differences.count, 0, "{:?}", after.differences);
    assert_eq!(
        (after.end, after.inputs, after.requests, after.lines),
        (LogEnd::Closed, before.inputs, before.requests, before.lines)
    );
    // Second for second what was ridden, but for the day.
    let rows = |recording: Recording| {
        let bytes = recording.bytes("samples.csv").unwrap().unwrap();
        let mut rows = decode::<Row>(bytes.as_slice()).unwrap().records;
        let day = rows[0].utc_ms.div_euclid(86_400_000);
        rows.iter_mut()
            .for_each(|row| row.utc_ms -= day * 86_400_000);
        rows
    };
    let (old, new) = (
        rows(Recording::open(&folder).unwrap()),
        rows(Recording::open(&to).unwrap()),
    );
    assert_eq!(old, new);
    // What exists is not overwritten.
    let again = export(&Recording::open(&folder).unwrap(), &to, false).unwrap_err();
    assert!(again.contains("cannot be written"), "{again}");
}
