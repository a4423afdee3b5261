//! Where sessions that are written in the window are kept.

use std::sync::Arc;

/// Where sessions that are written here are kept: the rider's own folder. Never asked while a ride is under way.
pub trait SessionFiles {
    /// The names of the rider's own sessions.
    ///
    /// # Errors
    /// A sentence: why they cannot be listed, and what to do.
    fn keys(&mut self) -> Result<Vec<String>, String>;

    /// What a file says now; nothing where there is none.
    ///
    /// # Errors
    /// A sentence: why it cannot be read, and what to do.
    fn load(&mut self, key: &str) -> Result<Option<Arc<str>>, String>;

    /// Saves a session of this name in a file of its own, and gives the file's key.
    ///
    /// # Errors
    /// A sentence: why it was not saved, and what to do.
    fn save_new(&mut self, name: &str, text: &str) -> Result<String, String>;

    /// Saves over a file that says what is `known`, and keeps that beside it. False, and nothing saved, where it says
    /// something else by now or is gone.
    ///
    /// # Errors
    /// A sentence: why it was not saved, and what to do.
    fn save_over(&mut self, key: &str, known: &str, text: &str) -> Result<bool, String>;

    /// What was kept as a draft, if anything.
    ///
    /// # Errors
    /// A sentence: why it cannot be read, and what to do.
    fn draft(&mut self) -> Result<Option<String>, String>;

    /// Keeps a draft; none takes it away.
    ///
    /// # Errors
    /// A sentence: why it was not kept, and what to do.
    fn keep_draft(&mut self, text: Option<&str>) -> Result<(), String>;
}

/// Where nothing is kept: a window without a place for sessions.
pub(super) struct Nowhere;

impl Nowhere {
    fn refused<T>() -> Result<T, String> {
        Err(word!(
            "This window has no folder for sessions, so nothing is saved. Copy the text to keep it."
        )
        .to_owned())
    }
}

impl SessionFiles for Nowhere {
    fn keys(&mut self) -> Result<Vec<String>, String> {
        Ok(Vec::new())
    }

    fn load(&mut self, _key: &str) -> Result<Option<Arc<str>>, String> {
        Ok(None)
    }

    fn save_new(&mut self, _name: &str, _text: &str) -> Result<String, String> {
        Self::refused()
    }

    fn save_over(&mut self, _key: &str, _known: &str, _text: &str) -> Result<bool, String> {
        Self::refused()
    }

    fn draft(&mut self) -> Result<Option<String>, String> {
        Ok(None)
    }

    fn keep_draft(&mut self, _text: Option<&str>) -> Result<(), String> {
        Ok(())
    }
}
