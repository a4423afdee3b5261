//! Invariant 7: decoders return on any octets and never panic, what is valid is written back as it came, and unknown
//! codes are kept.

use proptest::prelude::*;
use stillroad::gatt::control_point::{Request, Response};
use stillroad::gatt::{
    BatteryLevel, CyclingPowerFeature, CyclingPowerMeasurement, DecodeError, FitnessMachineFeature,
    HeartRateMeasurement, IndoorBikeData, MachineAdvertisement, PowerRange, ResistanceRange,
    SpeedAndCadenceFeature, SpeedAndCadenceMeasurement, Status, TrainingStatus, Uuid16, describe,
};

use super::octets;

type RoundTrip = fn(&[u8]) -> Result<Vec<u8>, DecodeError>;

/// Each codec as a road from octets to octets.
const CODECS: [(u16, RoundTrip); 15] = [
    (0x2AD2, |b| IndoorBikeData::decode(b).map(|v| v.encode())),
    (0x2A63, |b| {
        CyclingPowerMeasurement::decode(b).map(|v| v.encode())
    }),
    (0x2A65, |b| {
        CyclingPowerFeature::decode(b).map(|v| v.encode())
    }),
    (0x2A5B, |b| {
        SpeedAndCadenceMeasurement::decode(b).map(|v| v.encode())
    }),
    (0x2A5C, |b| {
        SpeedAndCadenceFeature::decode(b).map(|v| v.encode())
    }),
    (0x2A37, |b| {
        HeartRateMeasurement::decode(b).map(|v| v.encode())
    }),
    (0x2A19, |b| BatteryLevel::decode(b).map(|v| v.encode())),
    (0x2ACC, |b| {
        FitnessMachineFeature::decode(b).map(|v| v.encode())
    }),
    (0x2AD8, |b| PowerRange::decode(b).map(|v| v.encode())),
    (0x2AD6, |b| ResistanceRange::decode(b).map(|v| v.encode())),
    (0x2AD3, |b| TrainingStatus::decode(b).map(|v| v.encode())),
    (0x2ADA, |b| Status::decode(b).map(|v| v.encode())),
    (0x1826, |b| {
        MachineAdvertisement::decode(b).map(|v| v.encode())
    }),
    (0x2AD9, |b| {
        if b.first() == Some(&0x80) {
            Response::decode(b).map(|v| v.encode())
        } else {
            Request::decode(b).map(|v| v.encode())
        }
    }),
    // Requests alone, so that 80 goes through the request decoder too.
    (0x0000, |b| Request::decode(b).map(|v| v.encode())),
];

fn round_trip(uuid: &str, bytes: &[u8]) -> Result<Vec<u8>, DecodeError> {
    let number = u16::from_str_radix(uuid, 16).unwrap();
    let (_, codec) = CODECS.iter().find(|(known, _)| *known == number).unwrap();
    codec(bytes)
}

/// The one place where the standard has two ways to say the same: heart contact "not supported" is 0 or 1.
fn canonical(uuid: &str, mut bytes: Vec<u8>) -> Vec<u8> {
    if uuid == "2A37" && bytes[0] & 0b110 == 0b010 {
        bytes[0] &= !0b010;
    }
    bytes
}

#[test]
fn valid_octets_are_written_back_as_they_came() {
    let file: serde_json::Value =
        serde_json::from_str(include_str!("../../data/gatt_vectors.json")).unwrap();
    let mut compared = 0;
    for vector in file["vectors"].as_array().unwrap() {
        let uuid = vector["uuid"].as_str().unwrap();
        let bytes = canonical(uuid, octets(vector["hex"].as_str().unwrap()));
        assert_eq!(
            round_trip(uuid, &bytes),
            Ok(bytes.clone()),
            "{uuid} {bytes:02x?}"
        );
        compared += 1;
    }
    assert!(compared > 800);
}

#[test]
fn unknown_codes_are_kept() {
    // Reserved numbers of the Fitness Machine Service 1.0: training status 10 to FF, op codes and status codes without
    // an entry in tables 4.15 and 4.16, results 00 and 06 to FF, and parameters of stop and spin-down.
    for (uuid, hex) in [
        ("2AD3", "0041"),
        ("2AD3", "00ff"),
        ("2AD9", "0fa1b2c3"),
        ("2AD9", "7f"),
        ("2AD9", "0803"),
        ("2AD9", "1307"),
        ("2AD9", "800500"),
        ("2AD9", "8005f7"),
        ("2AD9", "80a9010203"),
        ("2ADA", "00"),
        ("2ADA", "20aabb"),
        ("2ADA", "fe"),
        ("2ADA", "0207"),
        ("2ADA", "1409"),
        ("2ACC", "ffffffffffffffff"),
        ("2A65", "000000f0"),
        ("2A5C", "00f0"),
        ("2A19", "c8"),
        ("1826", "ffffe0"),
    ] {
        let bytes = octets(hex);
        assert_eq!(round_trip(uuid, &bytes), Ok(bytes.clone()), "{uuid} {hex}");
    }
}

/// A second reading of what was written gives the same octets again: writing settles in one step, and does not grow.
fn settles(codec: RoundTrip, bytes: &[u8]) -> Result<(), String> {
    let Ok(written) = codec(bytes) else {
        return Ok(());
    };
    if codec(&written) != Ok(written.clone()) {
        return Err(format!("{written:02x?} is read as something else"));
    }
    if written.len() > bytes.len().max(1) {
        return Err("it grew".to_owned());
    }
    Ok(())
}

#[test]
fn codecs_that_change_what_they_read_are_noticed() {
    settles(|bytes| Ok(bytes.to_vec()), &[1, 2]).unwrap();
    let counts_up: RoundTrip =
        |bytes| Ok(bytes.iter().map(|octet| octet.wrapping_add(1)).collect());
    settles(counts_up, &[1, 2]).unwrap_err();
    let grows: RoundTrip = |bytes| Ok([bytes, &[0]].concat());
    settles(grows, &[1, 2]).unwrap_err();
    let fills: RoundTrip = |_| Ok(vec![0; 4]);
    settles(fills, &[1, 2]).unwrap_err();
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn decoders_return_on_any_octets(bytes in proptest::collection::vec(any::<u8>(), 0..64)) {
        for (uuid, codec) in CODECS {
            settles(codec, &bytes).map_err(|why| TestCaseError::fail(format!("{uuid:04X}: {why}")))?;
            let described = describe(Uuid16(uuid), &bytes);
            if uuid != 0 {
                prop_assert_eq!(described.is_ok(), codec(&bytes).is_ok(), "{:04X}", uuid);
            } else {
                prop_assert!(described.is_err());
            }
        }
    }
}
