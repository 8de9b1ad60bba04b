//! How fast records are read and judged.
//!
//! `cargo bench` prints for generated records of 1,000, 10,000 and 100,000 lines: lexing, parsing and formatting (bytes a
//! second), the whole check (lines a second), and the check of 1,000 files by one and by two threads. If the
//! cost is linear, the lines a second do not fall with the length of the record. Last comes the time from start
//! to exit of the program itself. Figures stand in DEVELOPERS.md.

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use criterion::measurement::WallTime;
use criterion::{
    BenchmarkGroup, BenchmarkId, Criterion, Throughput, criterion_group, criterion_main,
};
use logos::Logos;
use stagebook::syntax::format::format;
use stagebook::syntax::{TokenKind, parse};
use stagebook::workspace::{Input, Options, Silent, check};

mod generated;

use generated::{PLAN, REGISTER, record};

// The program's own allocator, so that the figures are the program's.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Lengths of the generated records, in lines.
const LENGTHS: [usize; 3] = [1_000, 10_000, 100_000];

/// A workspace of its own with plan, register and `files` records of `lines` lines.
fn works(files: usize, lines: usize) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder for the records");
    let write =
        |path: &Path, text: &str| std::fs::write(path, text).expect("the folder was just made");
    write(&folder.path().join("plan.ubr"), PLAN);
    write(&folder.path().join("register.ubr"), REGISTER);
    let units = folder.path().join("units");
    std::fs::create_dir(&units).expect("the folder was just made");
    for file in 1..=files {
        write(
            &units.join(format!("SP-{file:04}.ubr")),
            &record(&format!("SP-{file:04}"), lines),
        );
    }
    (folder, units)
}

/// Checks and makes sure that the records are clean and wholly judged: a broken generator would measure nothing.
fn judged(units: &Path, threads: usize) -> usize {
    let outcome = check(
        &[Input::Path(units.to_owned())],
        &Options {
            threads,
            ..Options::default()
        },
        &Silent,
    )
    .expect("the folder exists");
    let first = outcome
        .findings
        .first()
        .map(|finding| (finding.rule.name, &finding.message));
    assert!(
        first.is_none(),
        "a generated record is not clean: {first:?}"
    );
    assert!(
        outcome
            .units
            .iter()
            .all(|unit| unit.serial.starts_with("SP-"))
    );
    outcome.lines
}

fn short<'c>(criterion: &'c mut Criterion, name: &str) -> BenchmarkGroup<'c, WallTime> {
    let mut group = criterion.benchmark_group(name);
    group
        .sample_size(10)
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(2));
    group
}

fn lexing(criterion: &mut Criterion) {
    let mut group = short(criterion, "lex");
    for lines in LENGTHS {
        let text = record("SP-0001", lines);
        group.throughput(Throughput::Bytes(text.len() as u64));
        group.bench_with_input(BenchmarkId::from_parameter(lines), &text, |bench, text| {
            bench.iter(|| TokenKind::lexer(text).filter(|token| token.is_ok()).count());
        });
    }
}

fn parsing(criterion: &mut Criterion) {
    let mut group = short(criterion, "parse");
    for lines in LENGTHS {
        let text: std::sync::Arc<str> = record("SP-0001", lines).into();
        group.throughput(Throughput::Bytes(text.len() as u64));
        group.bench_with_input(BenchmarkId::from_parameter(lines), &text, |bench, text| {
            bench.iter(|| black_box(parse(text.clone())));
        });
    }
}

/// From a parsed record to the edits of its layout, the proof that they change nothing else included.
fn formatting(criterion: &mut Criterion) {
    let mut group = short(criterion, "format");
    for lines in LENGTHS {
        let text = record("SP-1", lines);
        group.throughput(Throughput::Bytes(text.len() as u64));
        let tree = parse(text);
        group.bench_function(BenchmarkId::from_parameter(lines), |bench| {
            bench.iter(|| format(black_box(&tree)).expect("the record keeps what it says"))
        });
    }
}

fn one_record(criterion: &mut Criterion) {
    let mut group = short(criterion, "check-one-record");
    for lines in LENGTHS {
        let (_folder, units) = works(1, lines);
        group.throughput(Throughput::Elements(judged(&units, 1) as u64));
        group.bench_function(BenchmarkId::from_parameter(lines), |bench| {
            bench.iter(|| judged(&units, 1))
        });
    }
}

fn many_records(criterion: &mut Criterion) {
    let mut group = short(criterion, "check-1000-records");
    let (_folder, units) = works(1_000, 100);
    for threads in [1, 2] {
        group.throughput(Throughput::Elements(judged(&units, threads) as u64));
        let name = BenchmarkId::new("threads", threads);
        group.bench_function(name, |bench| bench.iter(|| judged(&units, threads)));
    }
}

/// A works whose records are the units of one lot. With `compared` three values of each section are held beside
/// those of the sisters.
fn works_of_sisters(files: usize, lines: usize, compared: bool) -> (tempfile::TempDir, PathBuf) {
    let (folder, units) = works(files, lines);
    if compared {
        let plan = PLAN
            .replace("  reading height[section] : length\n", "  reading height[section] : length\n    compare\n")
            .replace(
                "  reading turns[section, phase] : count\n",
                "  reading turns[section, phase] : count\n    compare\n",
            )
            .replace("25 °C, \"copper\")\n", "25 °C, \"copper\")\n  calc share[section] = resistance[section] / expected[section]\n    compare\n");
        assert_eq!(plan.matches("    compare\n").count(), 3);
        std::fs::write(folder.path().join("plan.ubr"), plan).expect("the folder was just made");
    }
    for file in 1..=files {
        let path = units.join(format!("SP-{file:04}.ubr"));
        let text = std::fs::read_to_string(&path).expect("it was just written");
        let lot = format!("  register speed\n  lot SP unit {file} of {files}\n");
        std::fs::write(&path, text.replacen("  register speed\n", &lot, 1))
            .expect("the folder was just made");
    }
    (folder, units)
}

/// Records of one lot: without `compare` in the plan, with it, and with it for more and more units. If the cost is
/// linear, the lines a second do not fall with the number of units.
fn sisters(criterion: &mut Criterion) {
    let mut group = short(criterion, "check-sisters");
    for (files, compared) in [(1_000, false), (250, true), (1_000, true), (4_000, true)] {
        let (_folder, units) = works_of_sisters(files, 100, compared);
        group.throughput(Throughput::Elements(judged(&units, 1) as u64));
        let name = BenchmarkId::new(if compared { "compared" } else { "not-compared" }, files);
        group.bench_function(name, |bench| bench.iter(|| judged(&units, 1)));
    }
}

/// From start to exit of the program.
fn start(criterion: &mut Criterion) {
    let mut group = short(criterion, "start-to-exit");
    let folder = tempfile::tempdir().expect("a folder for the records");
    let line = folder.path().join("one-line.ubr");
    std::fs::write(&line, "unit SP-1 \"one line\"\n").expect("the folder was just made");
    let built_in = folder.path().join("built-in.ubr");
    std::fs::write(&built_in, "unit SP-2\n  plan oil-immersed-power\n")
        .expect("the folder was just made");
    let run = |arguments: &[&std::ffi::OsStr]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stagebook"));
        let command = command
            .args(arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        black_box(command.status().expect("the program starts"));
    };
    group.bench_function("version", |bench| {
        bench.iter(|| run(&["--version".as_ref()]))
    });
    group.bench_function("one-line", |bench| {
        bench.iter(|| run(&["check".as_ref(), line.as_os_str()]))
    });
    group.bench_function("built-in-plan", |bench| {
        bench.iter(|| run(&["check".as_ref(), built_in.as_os_str()]))
    });
}

criterion_group!(
    benches,
    lexing,
    parsing,
    formatting,
    one_record,
    many_records,
    sisters,
    start
);
criterion_main!(benches);
