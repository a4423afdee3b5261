//! What is remembered between rides: `memory.toml` in the data folder.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::text_file::{FileError, read_text, save_text};
use crate::units::{BrakeLag, BrakeTarget};

/// The version that this program writes. It goes up when an older program could misread a newer file.
pub const VERSION: u32 = 1;

const WHAT: &str = "memory file";
const LARGEST: u64 = 4 << 20;

/// What is remembered between rides. Keys that this program does not know are kept as they are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Memory {
    /// The version of the file.
    pub version: u32,
    /// The day on which the cautions were last seen and taken, as `2026-11-24`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cautions_seen: Option<String>,
    /// The trainer whose brake this program held when it was last heard of. Set when control is granted, cleared when
    /// the brake was let off for good: where it stands at a start the trainer may still hold its last load.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub control_held: Option<String>,
    /// What was learned of each trainer, by its address.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub trainers: BTreeMap<String, TrainerMemory>,
    /// The devices last used, by role.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub devices: BTreeMap<String, String>,
    /// What a newer program keeps here.
    #[serde(flatten)]
    pub rest: toml::Table,
}

impl Default for Memory {
    fn default() -> Self {
        Self {
            version: VERSION,
            cautions_seen: None,
            control_held: None,
            trainers: BTreeMap::new(),
            devices: BTreeMap::new(),
            rest: toml::Table::new(),
        }
    }
}

/// What was learned of one trainer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TrainerMemory {
    /// Its name when last seen.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// How its brake answers a command.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lag: Option<BrakeLag>,
    /// The fixed level or slope that was found for effort-only riding.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub free_target: Option<BrakeTarget>,
    /// The form in which it takes a resistance level, in a word.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resistance_form: Option<String>,
    /// The sorts of target that it refused although it lists them, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub refused: Vec<String>,
    /// What a newer program keeps here.
    #[serde(flatten)]
    pub rest: toml::Table,
}

impl Memory {
    /// Reads the memory; an empty one where there is none yet. A file that cannot be understood is moved aside, never
    /// overwritten, and the sentence says so.
    pub fn load(path: &Path) -> (Self, Option<String>) {
        let (text, why) = match read_text(path, WHAT, LARGEST) {
            Ok(text) => (text, None),
            Err(FileError::Missing { .. }) => return (Self::default(), None),
            Err(error @ (FileError::Folder { .. } | FileError::Unreadable { .. })) => {
                return (Self::default(), Some(error.to_string()));
            }
            Err(FileError::Empty { .. }) => (String::new(), Some("it is empty".to_owned())),
            Err(FileError::Huge { .. }) => (String::new(), Some("it is far too large".to_owned())),
            Err(_) => (String::new(), Some("it is no text".to_owned())),
        };
        let why = match why {
            Some(why) => why,
            None => match toml::from_str::<Self>(&text) {
                Ok(memory) if memory.version <= VERSION => return (memory, None),
                Ok(memory) => format!("it is of version {}, of a newer program", memory.version),
                Err(error) => error.message().to_owned(),
            },
        };
        let sentence = match move_aside(path) {
            Ok(aside) => format!(
                "What was remembered from earlier rides cannot be read ({why}) and begins anew. The old file was kept \
                 as {}.",
                aside.display()
            ),
            Err(error) => format!(
                "What was remembered from earlier rides cannot be read ({why}), and {} cannot be moved aside ({error}). \
                 Look at that file before the next ride.",
                path.display()
            ),
        };
        (Self::default(), Some(sentence))
    }

    /// Saves it, whole or not at all.
    ///
    /// # Errors
    /// [`FileError::Unwritable`].
    pub fn save(&self, path: &Path) -> Result<(), FileError> {
        let text = toml::to_string(self).map_err(|error| FileError::Unwritable {
            what: WHAT,
            path: path.to_owned(),
            error: std::io::Error::other(error),
        })?;
        save_text(path, WHAT, &text)
    }

    /// What is known of a trainer, to be filled.
    pub fn trainer(&mut self, address: &str) -> &mut TrainerMemory {
        self.trainers.entry(address.to_owned()).or_default()
    }
}

/// Renames a file to the first free of `name.bad`, `name.bad-2` and so on.
fn move_aside(path: &Path) -> std::io::Result<PathBuf> {
    for number in 1..100 {
        let mut name = path.as_os_str().to_owned();
        name.push(if number == 1 {
            ".bad".to_owned()
        } else {
            format!(".bad-{number}")
        });
        let aside = PathBuf::from(name);
        if !aside.try_exists()? {
            return fs::rename(path, &aside).map(|()| aside);
        }
    }
    Err(std::io::ErrorKind::AlreadyExists.into())
}
