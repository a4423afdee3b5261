//! Between the platform's 128-bit UUIDs and the 16-bit ones of the Bluetooth SIG.

use uuid::Uuid;

use crate::gatt::Uuid16;
use crate::gatt::uuid16::{CYCLING_POWER, FITNESS_MACHINE, HEART_RATE, SPEED_AND_CADENCE};

/// The Bluetooth Base UUID (Core Specification, volume 3, part B, 2.5.1); a 16-bit UUID stands in its third and fourth
/// octets.
const BASE: u128 = 0x0000_0000_0000_1000_8000_0080_5F9B_34FB;

/// The services that make a device worth listing.
pub(super) const KNOWN: [Uuid16; 4] = [
    FITNESS_MACHINE,
    CYCLING_POWER,
    SPEED_AND_CADENCE,
    HEART_RATE,
];

/// The long form of an assigned number.
pub(super) const fn long(short: Uuid16) -> Uuid {
    Uuid::from_u128(BASE | (short.0 as u128) << 96)
}

/// The assigned number of a UUID; nothing where it is a maker's own.
pub(super) fn short(long: Uuid) -> Option<Uuid16> {
    let bits = long.as_u128();
    let number = bits >> 96;
    if bits & !(0xFFFF << 96) != BASE {
        return None;
    }
    u16::try_from(number).ok().map(Uuid16)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn assigned_numbers_stand_in_the_base_uuid() {
        // Written out by hand after the Core Specification's rule.
        let written = "00001826-0000-1000-8000-00805f9b34fb";
        assert_eq!(long(FITNESS_MACHINE).to_string(), written);
        assert_eq!(
            short(Uuid::parse_str(written).unwrap()),
            Some(Uuid16(0x1826))
        );
        assert_eq!(
            short(Uuid::parse_str("0000ffff-0000-1000-8000-00805f9b34fb").unwrap()),
            Some(Uuid16(0xFFFF))
        );
    }

    #[test]
    fn makers_own_and_32_bit_uuids_are_passed_over() {
        for other in [
            "a026ee01-0a7d-4ab3-97fa-f1500f9feb8b",
            "00011826-0000-1000-8000-00805f9b34fb",
            "00001826-0000-1000-8000-00805f9b34fc",
            "00001826-0001-1000-8000-00805f9b34fb",
            "00000000-0000-0000-0000-000000000000",
        ] {
            assert_eq!(short(Uuid::parse_str(other).unwrap()), None, "{other}");
        }
    }
}
