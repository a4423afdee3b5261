//! Little-endian octets in and out, and the one error of all decoders.

/// Why a value could not be read from its octets. The record in question is left out; everything else goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DecodeError {
    /// The octets end before a field that the record must have.
    #[error(
        "{characteristic} is cut short: its {field} needs {needed} octets in all and {had} came, so this value is \
         left out. If it happens often, the device's firmware may need an update."
    )]
    Short {
        /// The characteristic's name, as the Bluetooth SIG gives it.
        characteristic: &'static str,
        /// The first field that is not whole.
        field: &'static str,
        /// Octets from the start of the value to the end of that field.
        needed: usize,
        /// Octets that were there.
        had: usize,
    },
    /// An octet that says what follows has a value that cannot stand there.
    #[error(
        "{characteristic} has {found:#04X} as its {field}, which cannot stand there, so this value is left out. \
         If it happens often, the device's firmware may need an update."
    )]
    Unexpected {
        /// The characteristic's name, as the Bluetooth SIG gives it.
        characteristic: &'static str,
        /// The field.
        field: &'static str,
        /// What was found.
        found: u8,
    },
}

impl DecodeError {
    /// The field that is short or wrong.
    pub const fn field(self) -> &'static str {
        match self {
            Self::Short { field, .. } | Self::Unexpected { field, .. } => field,
        }
    }
}

/// Takes fields from the front of a value. Octets that are left over at the end are ignored, as the profiles ask.
pub(super) struct Reader<'a> {
    characteristic: &'static str,
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Reader<'a> {
    pub(super) const fn new(characteristic: &'static str, bytes: &'a [u8]) -> Self {
        Self {
            characteristic,
            bytes,
            at: 0,
        }
    }

    fn take<const N: usize>(&mut self, field: &'static str) -> Result<[u8; N], DecodeError> {
        let found = self
            .bytes
            .get(self.at..)
            .and_then(|rest| rest.first_chunk::<N>())
            .ok_or(DecodeError::Short {
                characteristic: self.characteristic,
                field,
                needed: self.at + N,
                had: self.bytes.len(),
            })?;
        self.at += N;
        Ok(*found)
    }

    pub(super) fn u8(&mut self, field: &'static str) -> Result<u8, DecodeError> {
        self.take::<1>(field).map(|[octet]| octet)
    }

    pub(super) fn u16(&mut self, field: &'static str) -> Result<u16, DecodeError> {
        self.take(field).map(u16::from_le_bytes)
    }

    pub(super) fn i16(&mut self, field: &'static str) -> Result<i16, DecodeError> {
        self.take(field).map(i16::from_le_bytes)
    }

    pub(super) fn u24(&mut self, field: &'static str) -> Result<u32, DecodeError> {
        self.take::<3>(field)
            .map(|[a, b, c]| u32::from_le_bytes([a, b, c, 0]))
    }

    pub(super) fn u32(&mut self, field: &'static str) -> Result<u32, DecodeError> {
        self.take(field).map(u32::from_le_bytes)
    }

    /// Reads with `read` where `present`, and nothing otherwise.
    pub(super) fn when<T>(
        &mut self,
        present: bool,
        read: impl FnOnce(&mut Self) -> Result<T, DecodeError>,
    ) -> Result<Option<T>, DecodeError> {
        if present {
            read(self).map(Some)
        } else {
            Ok(None)
        }
    }

    /// All octets not yet taken.
    pub(super) fn rest(&self) -> &'a [u8] {
        self.bytes.get(self.at..).unwrap_or_default()
    }
}

/// Whether a bit of a flags field is set.
pub(super) const fn bit(flags: u32, number: u32) -> bool {
    flags >> number & 1 == 1
}

/// A record under construction whose flags follow from the fields that were put into it.
#[derive(Default)]
pub(super) struct Flagged {
    flags: u16,
    body: Vec<u8>,
}

impl Flagged {
    /// Sets a flag of its own.
    pub(super) fn flag(&mut self, number: u32, set: bool) {
        self.flags |= u16::from(set) << number;
    }

    /// Octets that no flag announces.
    pub(super) fn always(&mut self, octets: &[u8]) {
        self.body.extend_from_slice(octets);
    }

    /// A field and the flag that announces it, both only where there is a value.
    pub(super) fn field<const N: usize>(&mut self, number: u32, octets: Option<[u8; N]>) {
        if let Some(octets) = octets {
            self.flag(number, true);
            self.always(&octets);
        }
    }

    /// The record behind two octets of flags.
    pub(super) fn with_wide_flags(self) -> Vec<u8> {
        [&self.flags.to_le_bytes(), self.body.as_slice()].concat()
    }

    /// The record behind one octet of flags. The upper half of the flags is never set by its callers.
    pub(super) fn with_narrow_flags(self) -> Vec<u8> {
        [&self.flags.to_le_bytes()[..1], self.body.as_slice()].concat()
    }
}

/// Three octets, little-endian; the top octet of `value` is dropped.
pub(super) const fn u24_bytes(value: u32) -> [u8; 3] {
    let [a, b, c, _] = value.to_le_bytes();
    [a, b, c]
}

/// A quantity as the nearest raw number of a field, held at the field's bounds. Not-a-number becomes 0.
pub(super) fn raw<T>(value: f64, per_unit: f64) -> T
where
    T: TryFrom<i64> + Bounded,
{
    // The cast saturates, and so does the conversion below.
    let whole = (value * per_unit).round() as i64;
    T::try_from(whole).unwrap_or(if whole < 0 { T::LEAST } else { T::MOST })
}

/// The bounds of a field's raw number.
pub(super) trait Bounded {
    const LEAST: Self;
    const MOST: Self;
}

macro_rules! bounded {
    ($($type:ty),*) => { $(
        impl Bounded for $type {
            const LEAST: Self = Self::MIN;
            const MOST: Self = Self::MAX;
        }
    )* };
}
bounded!(u8, u16, u32, i16);
