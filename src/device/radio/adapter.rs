//! The computer's adapters: asked within their time, and one of them chosen.

use std::future::Future;
use std::time::Duration;

use btleplug::api::{Central, CentralState};
use btleplug::platform::Adapter as PlatformAdapter;
use tokio::time::timeout;

use super::failure::{no_adapter, trouble, unanswered};
use crate::device::Adapter;

/// The system's time to answer a question about itself.
pub(super) const PATIENCE: Duration = Duration::from_secs(4);

/// Of several adapters those switched on come first, of these the one in use, then by name; with whether it is on.
pub(super) async fn choose(
    adapters: Vec<PlatformAdapter>,
    used: Option<String>,
) -> Result<(String, PlatformAdapter, bool), Adapter> {
    let mut named = Vec::new();
    for adapter in adapters {
        let name = in_time(adapter.adapter_info()).await?;
        let on = in_time(adapter.adapter_state()).await? != CentralState::PoweredOff;
        named.push((name, adapter, on));
    }
    named
        .into_iter()
        .min_by_key(|(name, _, on)| (!on, Some(name) != used.as_ref(), name.clone()))
        .ok_or_else(no_adapter)
}

/// Asks the system, within its time.
pub(super) async fn in_time<T>(
    asked: impl Future<Output = Result<T, btleplug::Error>>,
) -> Result<T, Adapter> {
    match timeout(PATIENCE, asked).await {
        Ok(answer) => answer.map_err(|error| trouble(&error)),
        Err(_) => Err(unanswered()),
    }
}
