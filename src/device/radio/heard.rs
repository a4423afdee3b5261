//! What was heard of a device, as the rest of the program is told it.

use btleplug::api::{BDAddr, Peripheral as _, PeripheralProperties};
use btleplug::platform::Peripheral;

use super::uuids::{KNOWN, long, short};
use crate::device::{Advertisement, DeviceId};
use crate::gatt::uuid16::FITNESS_MACHINE;

/// What is passed on of a device heard: those that list a service the program knows or send data of a fitness machine,
/// and those that send a name and list nothing at all, since listing services is only recommended to machines
/// (Fitness Machine Profile 1.0, 3.1.1.1). Everything else on the air is no training device.
pub(super) fn advertisement(
    device: DeviceId,
    properties: PeripheralProperties,
) -> Option<Advertisement> {
    let machine_data = properties.service_data.get(&long(FITNESS_MACHINE)).cloned();
    let services: Vec<_> = properties
        .services
        .iter()
        .filter_map(|uuid| short(*uuid))
        .collect();
    // BlueZ makes a name from the address where none was sent.
    let address = properties.address.to_string().replace(':', "-");
    let name = properties
        .advertisement_name
        .or(properties.local_name)
        .filter(|name| *name != address);
    let known = services.iter().any(|service| KNOWN.contains(service));
    let only_named = properties.services.is_empty() && name.is_some();
    (known || machine_data.is_some() || only_named).then_some(Advertisement {
        device,
        name,
        services,
        machine_data,
        rssi: properties.rssi,
        simulated: false,
    })
}

/// A device's address, or the platform's own name for it where addresses are hidden.
pub(super) fn device_id(peripheral: &Peripheral) -> DeviceId {
    let address = peripheral.address();
    if address == BDAddr::default() {
        DeviceId::new(peripheral.id().to_string())
    } else {
        DeviceId::new(address.to_string())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn named(name: &str) -> PeripheralProperties {
        PeripheralProperties {
            address: [0xF0, 0, 0, 0, 0, 0xAB].into(),
            advertisement_name: Some(name.to_owned()),
            rssi: Some(-61),
            ..PeripheralProperties::default()
        }
    }

    #[test]
    fn training_devices_are_told_with_all_that_was_heard() {
        let mut properties = named("T");
        properties.services = vec![long(FITNESS_MACHINE), uuid::Uuid::from_u128(7)];
        properties
            .service_data
            .insert(long(FITNESS_MACHINE), vec![1, 0x20, 0]);
        assert_eq!(
            advertisement(DeviceId::new("F0:00:00:00:00:AB"), properties),
            Some(Advertisement {
                device: DeviceId::new("F0:00:00:00:00:AB"),
                name: Some("T".to_owned()),
                services: vec![FITNESS_MACHINE],
                machine_data: Some(vec![1, 0x20, 0]),
                rssi: Some(-61),
                simulated: false,
            })
        );
    }

    #[test]
    fn a_name_alone_is_told_and_other_services_are_not() {
        assert!(advertisement(DeviceId::new("A"), named("T")).is_some());
        let mut other = named("Lamp");
        other.services = vec![uuid::Uuid::from_u128(7)];
        assert_eq!(advertisement(DeviceId::new("A"), other), None);
        let nameless = PeripheralProperties {
            address: [0xF0, 0, 0, 0, 0, 0xAB].into(),
            local_name: Some("F0-00-00-00-00-AB".to_owned()),
            ..PeripheralProperties::default()
        };
        assert_eq!(advertisement(DeviceId::new("A"), nameless), None);
        let mut data = named("T");
        data.advertisement_name = None;
        data.service_data.insert(long(FITNESS_MACHINE), vec![]);
        let told = advertisement(DeviceId::new("A"), data).unwrap();
        assert_eq!((told.name, told.machine_data), (None, Some(vec![])));
    }
}
