//! What a frame costs the processor, without presenting it: the strip by itself against a plain line plot of the same
//! points, the whole Ride room, and Prepare with many sessions. `cargo bench --bench strip`
//!
//! All cases take turns within one run, round by round, and the median round of each is told: what else the machine does
//! meets all of them alike. On Linux the time is the thread's own on the processor; elsewhere it is the clock's.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod ridden;

use std::cell::Cell;
use std::hint::black_box;
use std::rc::Rc;
use std::sync::Arc;
use std::time::Instant as WallInstant;

use eframe::App as _;
use egui::{Context, RawInput, Rect, Ui, pos2, vec2};
use egui_plot::{Line, Plot, PlotPoints};
use stillroad::app::{App, Desk, Ride, Shelf};
use stillroad::engine::{Command, Snapshot};
use stillroad::rider::Rider;
use stillroad::time::{Instant, Span};
use stillroad::ui::keys::Hands;
use stillroad::ui::legibility::Sight;
use stillroad::ui::rooms::ride;
use stillroad::ui::theme::{self, Ground};
use stillroad::ui::widgets::{Look, strip};

const WINDOW: egui::Vec2 = vec2(1280.0, 800.0);
/// About where the strip lies in a window of that size.
const STRIP: Rect = Rect {
    min: pos2(440.0, 150.0),
    max: pos2(1240.0, 600.0),
};
const ROUNDS: usize = 9;
const FRAMES: u64 = 120;
/// Frames come at sixty a second.
const STEP: Span = Span(16_667);

/// Nanoseconds that this thread had a processor.
fn processor_time(start: WallInstant) -> u128 {
    std::fs::read_to_string("/proc/thread-self/schedstat")
        .ok()
        .and_then(|text| text.split(' ').next()?.parse().ok())
        .unwrap_or_else(|| start.elapsed().as_nanos())
}

/// Draws a frame by its number.
type Frame = Box<dyn FnMut(&mut Ui, u64)>;

/// One thing that is drawn, frame after frame.
struct Case {
    name: String,
    ctx: Context,
    frame: Frame,
    drawn: u64,
    micros: Vec<f64>,
    triangles: usize,
}

impl Case {
    fn new(name: impl Into<String>, frame: impl FnMut(&mut Ui, u64) + 'static) -> Self {
        let ctx = Context::default();
        theme::install(&ctx, Ground::Dark);
        Self {
            name: name.into(),
            ctx,
            frame: Box::new(frame),
            drawn: 0,
            micros: Vec::new(),
            triangles: 0,
        }
    }

    fn draw(&mut self) {
        self.drawn += 1;
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(pos2(0.0, 0.0), WINDOW)),
            time: Some(self.drawn as f64 / 60.0),
            focused: true,
            ..RawInput::default()
        };
        let (frame, n) = (&mut self.frame, self.drawn);
        let mut output = self.ctx.run_ui(input, |ui| frame(ui, n));
        drop(std::mem::take(&mut output.textures_delta.set));
        drop(std::mem::take(&mut output.textures_delta.free));
        let meshes = self.ctx.tessellate(std::mem::take(&mut output.shapes), 1.0);
        self.triangles = meshes
            .iter()
            .map(|mesh| match &mesh.primitive {
                egui::epaint::Primitive::Mesh(mesh) => mesh.indices.len() / 3,
                egui::epaint::Primitive::Callback(_) => 0,
            })
            .sum();
        black_box(meshes);
    }

    fn round(&mut self) {
        let wall = WallInstant::now();
        let start = processor_time(wall);
        for _ in 0..FRAMES {
            self.draw();
        }
        let nanos = processor_time(wall) - start;
        self.micros.push(nanos as f64 / 1e3 / FRAMES as f64);
    }

    fn median(&self) -> f64 {
        let mut sorted = self.micros.clone();
        sorted.sort_by(f64::total_cmp);
        sorted[sorted.len() / 2]
    }
}

/// The moment of a frame: the clock runs on from the snapshot for a quarter of a second, as long as one stands.
fn moment(snapshot: &Snapshot, frame: u64) -> Instant {
    snapshot.at + STEP * (frame % 15)
}

fn data(snapshot: &Snapshot, frame: u64) -> strip::Data {
    ride::Data::new(moment(snapshot, frame), snapshot, &Hands::default(), true).strip
}

fn strip_alone(name: &str, snapshot: &Arc<Snapshot>) -> Case {
    let snapshot = Arc::clone(snapshot);
    let look = Look {
        colours: Ground::Dark.colours(),
        scale: theme::scale(WINDOW),
        reduced_motion: false,
        text: 1.0,
        least: Sight::default().least_points(None),
    };
    Case::new(format!("strip, {name}"), move |ui, frame| {
        strip::show(ui, STRIP, &data(&snapshot, frame), look);
    })
}

/// The lines of the strip as points: both edges of the lane, the ink, the cadence.
fn lines(data: &strip::Data) -> [Vec<[f64; 2]>; 4] {
    let edge = |pick: fn((f64, Option<f64>)) -> f64| {
        let points = data.lane.iter();
        points
            .filter_map(|point| Some([point.at, pick(point.edges?)]))
            .collect()
    };
    [
        edge(|(lower, _)| lower),
        edge(|(_, upper)| upper.unwrap_or(10.0)),
        data.ink
            .iter()
            .filter_map(|ink| Some([ink.at, ink.effort?]))
            .collect(),
        data.cadence
            .iter()
            .filter_map(|&(at, rpm)| Some([at, rpm? / 20.0]))
            .collect(),
    ]
}

/// A plain line plot; its points are made before the run, so that only the plotting is charged to it.
fn plot(name: &str, snapshot: &Arc<Snapshot>, framed: bool) -> Case {
    let prepared: Vec<_> = (0..15).map(|n| lines(&data(snapshot, n))).collect();
    let points: usize = prepared[0].iter().map(Vec::len).sum();
    let what = if framed { "with axes and grid" } else { "bare" };
    Case::new(
        format!("egui_plot {what}, {name} ({points} points)"),
        move |ui, frame| {
            let lines = &prepared[(frame % 15) as usize];
            let mut child = ui.new_child(egui::UiBuilder::new().max_rect(STRIP));
            Plot::new("plot")
                .show_crosshair(false)
                .show_axes(framed)
                .show_grid(framed)
                .width(STRIP.width())
                .height(STRIP.height())
                .show(&mut child, |plot| {
                    for (n, line) in lines.iter().enumerate() {
                        let points = PlotPoints::from(line.clone());
                        plot.line(Line::new(n.to_string(), points));
                    }
                });
        },
    )
}

/// A ride that shows one snapshot while its clock runs.
struct Standing {
    snapshot: Arc<Snapshot>,
    now: Rc<Cell<Instant>>,
}

impl Ride for Standing {
    fn snapshot(&mut self) -> Arc<Snapshot> {
        Arc::clone(&self.snapshot)
    }

    fn now(&self) -> Instant {
        self.now.get()
    }

    fn command(&mut self, _command: Command) {}
}

/// A desk on which nothing is ever put.
struct Empty;

impl Desk for Empty {
    fn save_rider(&mut self, _key: Option<&str>, _rider: &Rider) -> Result<String, String> {
        Err("Nothing is saved here.".to_owned())
    }

    fn read_rider(&mut self, _key: &str) -> Result<Rider, String> {
        Err("Nothing is kept here.".to_owned())
    }

    fn save_settings(&mut self, _text: &str) -> Result<(), String> {
        Err("Nothing is saved here.".to_owned())
    }
}

/// The whole window over a snapshot.
fn window(name: impl Into<String>, snapshot: &Arc<Snapshot>, shelf: Shelf) -> Case {
    let snapshot = Arc::clone(snapshot);
    let now = Rc::new(Cell::new(snapshot.at));
    let ride = Standing {
        snapshot: Arc::clone(&snapshot),
        now: Rc::clone(&now),
    };
    let mut case = Case::new(name, |_, _| {});
    let cc = eframe::CreationContext::_new_kittest(case.ctx.clone());
    let mut app = App::new(&cc, Box::new(ride), shelf, Box::new(Empty));
    let mut frame = eframe::Frame::_new_kittest();
    case.frame = Box::new(move |ui, n| {
        now.set(moment(&snapshot, n));
        app.logic(ui.ctx(), &mut frame);
        app.ui(ui, &mut frame);
    });
    case
}

fn shelf(sessions: usize) -> Shelf {
    let sessions = (0..sessions).map(|n| {
        let name = format!("Session {n}");
        let plan = ridden::session(&name, 9 + n % 30, 60 + 30 * (n as u64 % 7));
        (format!("{n}.toml"), plan)
    });
    Shelf {
        sessions: sessions.collect(),
        riders: vec![(None, Arc::default())],
        troubles: Vec::new(),
    }
}

fn main() {
    let short = ridden::session("Twenty minutes", 10, 120);
    let long = ridden::session("Four hours", 400, 36);
    let short = ridden::ridden(&short, Span::from_seconds(10 * 60)).snapshot();
    let long = ridden::ridden(&long, Span::from_seconds(2 * 3600)).snapshot();
    // As dense as the short one: what these two differ in is the length of the session alone.
    let same = ridden::session("Four hours", 120, 120);
    let same = ridden::ridden(&same, Span::from_seconds(2 * 3600)).snapshot();
    let idle = {
        let mut idle = Snapshot::clone(&short);
        idle.mode = stillroad::ride::Mode::Idle;
        Arc::new(idle)
    };
    let mut cases = vec![
        strip_alone("20 minutes, 10 blocks", &short),
        strip_alone("4 hours, 120 blocks", &same),
        strip_alone("4 hours, 400 blocks", &long),
        plot("20 minutes", &short, false),
        plot("4 hours", &long, false),
        plot("4 hours", &long, true),
        window("Ride room, 20 minutes", &short, shelf(1)),
        window("Ride room, 4 hours, 120 blocks", &same, shelf(1)),
        window("Ride room, 4 hours, 400 blocks", &long, shelf(1)),
        window("Prepare, 4 sessions", &idle, shelf(4)),
        window("Prepare, 500 sessions", &idle, shelf(500)),
    ];
    for case in &mut cases {
        // Fonts are read and glyphs are drawn in the first frames.
        for _ in 0..30 {
            case.draw();
        }
    }
    for _ in 0..ROUNDS {
        for case in &mut cases {
            case.round();
        }
    }
    println!(
        "Median of {ROUNDS} rounds of {FRAMES} frames at {WINDOW}, processor time of the thread, nothing presented."
    );
    println!("{:<48} {:>10} {:>10}", "case", "us/frame", "triangles");
    for case in &cases {
        println!(
            "{:<48} {:>10.0} {:>10}",
            case.name,
            case.median(),
            case.triangles
        );
    }
}
