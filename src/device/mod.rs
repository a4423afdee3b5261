//! The seam between the program and its devices: requests go out, events come back, and what crosses is bytes.
//!
//! A backend knows nothing of power or heart rates. The radio and the practice trainer stand behind the same trait and
//! speak in the same bytes, so whatever the core does with one it does with the other.

pub mod fault;
pub mod name;
pub mod practice;
pub mod radio;

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::gatt::Uuid16;
use crate::time::Instant;

/// What names a device for as long as the program knows it: an address, or whatever the platform gives instead.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct DeviceId(pub Arc<str>);

impl DeviceId {
    /// From its text.
    pub fn new(text: impl AsRef<str>) -> Self {
        Self(Arc::from(text.as_ref()))
    }

    /// Its text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for DeviceId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What the program asks of a backend. Each is answered by exactly one [`Event`] of the matching name for its device,
/// unless the link is lost first, which is then the answer to all.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Request {
    /// Listen for advertisements, or stop. Answered by [`Event::Adapter`] and then a stream of [`Event::Heard`].
    Scan(bool),
    /// Make a link and discover its characteristics.
    Connect(DeviceId),
    /// Read a characteristic's value.
    Read(DeviceId, Uuid16),
    /// Turn on notifications or indications, whichever the characteristic has.
    Subscribe(DeviceId, Uuid16),
    /// Write with response.
    Write(DeviceId, Uuid16, Vec<u8>),
    /// Close the link. Answered by [`Event::Disconnected`].
    Disconnect(DeviceId),
}

impl Request {
    /// The device it concerns; none for a scan.
    pub fn device(&self) -> Option<&DeviceId> {
        match self {
            Self::Scan(_) => None,
            Self::Connect(device)
            | Self::Read(device, _)
            | Self::Subscribe(device, _)
            | Self::Write(device, _, _)
            | Self::Disconnect(device) => Some(device),
        }
    }
}

/// The state of the computer's Bluetooth.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Adapter {
    /// Listening.
    Listening,
    /// Ready and not listening.
    Quiet,
    /// There is none, or the service that drives it does not run.
    Missing(String),
    /// It is switched off.
    Off(String),
    /// The system does not let this program use it.
    Forbidden(String),
}

/// Why an operation on a device failed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Failure {
    /// The device's ATT error code.
    Att(u8),
    /// Nothing came back in time.
    TimedOut,
    /// There is no such device, or no such characteristic on it.
    NotFound,
    /// The link was lost, or was not there.
    LinkLost,
    /// The system refused: permission, pairing.
    Forbidden(String),
    /// Anything else, in the platform's words.
    Other(String),
}

/// What was heard of a device on the air.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Advertisement {
    /// Which device.
    pub device: DeviceId,
    /// Its name as sent: text from a stranger, not yet made safe to show.
    pub name: Option<String>,
    /// The services it lists.
    pub services: Vec<Uuid16>,
    /// Its service data for the Fitness Machine service, raw, where it sends any.
    pub machine_data: Option<Vec<u8>>,
    /// Signal strength in dBm.
    pub rssi: Option<i16>,
    /// Whether it is a model and not a machine; only ever shown, never acted on.
    pub simulated: bool,
}

/// What the ids of simulated devices begin with, so that a recording says what it was ridden on. No address of a machine
/// does.
pub const SIMULATED: &str = "practice:";

/// What a backend reports.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Event {
    /// The adapter changed, or answers a scan request.
    Adapter(Adapter),
    /// A device was heard.
    Heard(Advertisement),
    /// A link stands and its characteristics are known: pairs of service and characteristic.
    Connected(DeviceId, Vec<(Uuid16, Uuid16)>),
    /// A link could not be made.
    ConnectFailed(DeviceId, Failure),
    /// A link is gone, asked for or not.
    Disconnected(DeviceId),
    /// The answer to a read.
    Read(DeviceId, Uuid16, Result<Vec<u8>, Failure>),
    /// The answer to a subscription.
    Subscribed(DeviceId, Uuid16, Result<(), Failure>),
    /// The answer to a write.
    Written(DeviceId, Uuid16, Result<(), Failure>),
    /// A notification or indication.
    Notified(DeviceId, Uuid16, Vec<u8>),
    /// So many events were lost because a buffer was full.
    Lost(u32),
}

/// Something that drives devices.
///
/// A backend with tasks of its own (the radio) stamps what arrives when it arrives and queues it; a model advances when
/// it is polled. Both hand events out in the order of their stamps.
pub trait Backend: Send {
    /// Whether this backend is the one that knows the device.
    fn owns(&self, device: &DeviceId) -> bool;

    /// Takes a request. Never blocks; the answer comes as an event.
    fn request(&mut self, now: Instant, request: Request);

    /// The next event that happened at or before `now`, with its stamp.
    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)>;

    /// When [`poll_event`](Self::poll_event) next has something, as far as can be told without the world's help.
    fn poll_timeout(&self) -> Option<Instant>;
}

/// Hands a request to the backend that owns its device; a scan goes to all.
pub fn pass<'b>(backends: &mut [Box<dyn Backend + 'b>], now: Instant, request: &Request) {
    for backend in backends {
        if request.device().is_none_or(|device| backend.owns(device)) {
            backend.request(now, request.clone());
        }
    }
}
