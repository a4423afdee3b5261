//! A machine that is busy: as many threads as processors that never rest, and one that lays out and tessellates a window of
//! text and lines over and over, as a window drawn without a graphics card does.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;

pub struct Load {
    over: Arc<AtomicBool>,
    burns: Vec<JoinHandle<()>>,
    draws: JoinHandle<u64>,
}

impl Load {
    pub fn start() -> Self {
        let over = Arc::new(AtomicBool::new(false));
        let processors = std::thread::available_parallelism().map_or(2, usize::from);
        let burns = (0..processors)
            .map(|_| {
                let over = Arc::clone(&over);
                std::thread::spawn(move || {
                    let mut sum = 0_u64;
                    while !over.load(Ordering::Relaxed) {
                        for n in 0..100_000_u64 {
                            sum = std::hint::black_box(sum.wrapping_mul(31).wrapping_add(n));
                        }
                    }
                })
            })
            .collect();
        let ends = Arc::clone(&over);
        let draws = std::thread::spawn(move || draw(&ends));
        Self { over, burns, draws }
    }

    /// Ends it, and says how many frames were drawn.
    pub fn end(self) -> u64 {
        self.over.store(true, Ordering::Relaxed);
        for burn in self.burns {
            burn.join().unwrap();
        }
        self.draws.join().unwrap()
    }
}

fn draw(over: &AtomicBool) -> u64 {
    let context = egui::Context::default();
    let mut frames = 0;
    while !over.load(Ordering::Relaxed) {
        let mut output = context.run_ui(egui::RawInput::default(), |ui| {
            for row in 0..200 {
                ui.label(format!("{row} of frame {frames}"));
            }
        });
        // There is no graphics card that would want them.
        output.textures_delta.clear();
        std::hint::black_box(context.tessellate(output.shapes, 2.0));
        frames += 1;
    }
    frames
}
