//! Loudspeaker and microphone on Linux. The loudspeaker is one stream to PulseAudio, or to PipeWire by the same socket, kept open and fed with silence
//! where nothing is heard. A stream for each tone would begin a second late.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use pulseaudio::protocol::stream::{BufferAttr, StreamFlags};
use pulseaudio::protocol::{
    ChannelMap, ChannelVolume, DEFAULT_SINK, DEFAULT_SOURCE, PlaybackStreamParams,
    RecordStreamParams, SampleFormat, SampleSpec,
};
use pulseaudio::{AsPlaybackSource, Client, PlaybackStream, RecordStream};

use super::tone::RATE;

/// The server keeps so much of the sound ready: short, so that a tone is heard soon; not so short that it stutters.
const BUFFERED_BYTES: u32 = RATE * 2 * 80 / 1000;

/// What is being heard, and how much of it was given out.
type Queue = Arc<Mutex<Option<(Arc<[i16]>, usize)>>>;

/// The open stream.
#[derive(Debug)]
pub struct Speaker {
    queue: Queue,
    fed: Arc<AtomicU64>,
    // The stream ends when it is dropped, and the client after it.
    _stream: PlaybackStream,
    _client: Client,
}

impl Speaker {
    /// Opens the stream. It may wait for the server, so that it is called on a thread of its own.
    ///
    /// # Errors
    /// Why there is no sound, in a few words.
    pub fn open() -> Result<Self, String> {
        let client = Client::from_env(c"Stillroad").map_err(|error| error.to_string())?;
        let queue = Queue::default();
        let fed = Arc::new(AtomicU64::new(0));
        let source = {
            let (queue, fed) = (Arc::clone(&queue), Arc::clone(&fed));
            move |out: &mut [u8]| {
                fed.fetch_add(1, Ordering::Relaxed);
                fill(&queue, out)
            }
        };
        let params = PlaybackStreamParams {
            sample_spec: SampleSpec {
                format: SampleFormat::S16Le,
                channels: 1,
                sample_rate: RATE,
            },
            channel_map: ChannelMap::mono(),
            cvolume: Some(ChannelVolume::norm(1)),
            sink_name: Some(DEFAULT_SINK.to_owned()),
            buffer_attr: BufferAttr {
                target_length: BUFFERED_BYTES,
                ..BufferAttr::default()
            },
            flags: StreamFlags {
                adjust_latency: true,
                ..StreamFlags::default()
            },
            ..PlaybackStreamParams::default()
        };
        let runtime = tokio::runtime::Builder::new_current_thread()
            .build()
            .map_err(|error| error.to_string())?;
        let stream = runtime
            .block_on(client.create_playback_stream(params, source.as_playback_source()))
            .map_err(|error| error.to_string())?;
        Ok(Self {
            queue,
            fed,
            _stream: stream,
            _client: client,
        })
    }

    /// Is heard now, in place of whatever is heard.
    pub fn play(&self, samples: Arc<[i16]>) {
        *self.queue.lock().unwrap_or_else(PoisonError::into_inner) = Some((samples, 0));
    }

    /// Silence at once.
    pub fn stop(&self) {
        *self.queue.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }

    /// How often the server has asked for sound: where this stands, the server is gone.
    pub fn fed(&self) -> u64 {
        self.fed.load(Ordering::Relaxed)
    }
}

/// Gives the next samples, and silence behind them: always a whole number of samples, and never none, which would end
/// the stream.
fn fill(queue: &Queue, out: &mut [u8]) -> usize {
    let whole = out.len() / 2 * 2;
    let (pairs, _) = out[..whole].as_chunks_mut::<2>();
    let mut queue = queue.lock().unwrap_or_else(PoisonError::into_inner);
    for pair in pairs {
        let sample = queue.as_mut().and_then(|(samples, at)| {
            let sample = samples.get(*at).copied();
            *at += 1;
            sample
        });
        *pair = sample.unwrap_or(0).to_le_bytes();
    }
    if queue
        .as_ref()
        .is_some_and(|(samples, at)| *at >= samples.len())
    {
        *queue = None;
    }
    whole
}

/// The microphone: one stream from the source that the system has chosen, in the loudspeaker's own samples.
#[derive(Debug)]
pub struct Microphone {
    heard: Arc<Mutex<Heard>>,
    // The stream ends when it is dropped, and the client after it.
    _stream: RecordStream,
    _client: Client,
}

/// What was heard so far.
#[derive(Debug, Default)]
struct Heard {
    /// At most [`MOST_HEARD`]: what comes after is not kept.
    samples: Vec<i16>,
    /// The first octet of a sample whose second has not come yet.
    half: Option<u8>,
}

/// No cue is longer than half a minute; as much again for the silence round it.
const MOST_HEARD: usize = RATE as usize * 60;

impl Microphone {
    /// Opens the stream, which listens from then on. It may wait for the server.
    ///
    /// # Errors
    /// Why nothing can be heard, in a few words.
    pub fn open() -> Result<Self, String> {
        let client = Client::from_env(c"Stillroad").map_err(|error| error.to_string())?;
        let heard = Arc::new(Mutex::new(Heard::default()));
        let sink = {
            let heard = Arc::clone(&heard);
            move |octets: &[u8]| take_in(&heard, octets)
        };
        let params = RecordStreamParams {
            sample_spec: SampleSpec {
                format: SampleFormat::S16Le,
                channels: 1,
                sample_rate: RATE,
            },
            channel_map: ChannelMap::mono(),
            source_name: Some(DEFAULT_SOURCE.to_owned()),
            cvolume: Some(ChannelVolume::norm(1)),
            buffer_attr: BufferAttr {
                fragment_size: BUFFERED_BYTES,
                ..BufferAttr::default()
            },
            flags: StreamFlags {
                adjust_latency: true,
                ..StreamFlags::default()
            },
            ..RecordStreamParams::default()
        };
        let runtime = tokio::runtime::Builder::new_current_thread()
            .build()
            .map_err(|error| error.to_string())?;
        let stream = runtime
            .block_on(client.create_record_stream(params, sink))
            .map_err(|error| error.to_string())?;
        Ok(Self {
            heard,
            _stream: stream,
            _client: client,
        })
    }

    /// How many samples were heard so far.
    pub fn count(&self) -> usize {
        self.lock().samples.len()
    }

    /// What was heard since it was opened.
    pub fn samples(&self) -> Vec<i16> {
        self.lock().samples.clone()
    }

    fn lock(&self) -> MutexGuard<'_, Heard> {
        self.heard.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn take_in(heard: &Mutex<Heard>, octets: &[u8]) {
    let mut heard = heard.lock().unwrap_or_else(PoisonError::into_inner);
    for &octet in octets {
        if heard.samples.len() >= MOST_HEARD {
            return;
        }
        match heard.half.take() {
            None => heard.half = Some(octet),
            Some(low) => heard.samples.push(i16::from_le_bytes([low, octet])),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clip_is_given_out_once_and_then_silence() {
        let queue: Queue = Arc::new(Mutex::new(Some((Arc::from([1i16, 2, 3]), 0))));
        let mut out = [9u8; 5];
        assert_eq!(fill(&queue, &mut out), 4);
        assert_eq!(out, [1, 0, 2, 0, 9]);
        let mut out = [9u8; 6];
        assert_eq!(fill(&queue, &mut out), 6);
        assert_eq!(out, [3, 0, 0, 0, 0, 0]);
        assert!(queue.lock().is_ok_and(|queue| queue.is_none()));
    }

    #[test]
    fn what_is_heard_comes_in_pieces_of_any_length_and_is_bounded() {
        let heard = Mutex::new(Heard::default());
        for octets in [&[1u8][..], &[0, 2, 0], &[], &[255, 255]] {
            take_in(&heard, octets);
        }
        assert!(heard.lock().is_ok_and(|heard| heard.samples == [1, 2, -1]));
        take_in(&heard, &vec![0; MOST_HEARD * 2 + 9]);
        assert!(
            heard
                .lock()
                .is_ok_and(|heard| heard.samples.len() == MOST_HEARD)
        );
    }
}
