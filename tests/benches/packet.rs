//! How long the shop packet takes, and how it grows with the pieces: from `plan.json`'s
//! bytes to the PDF's, beside setting the same pages without a packet's content, which is
//! what the typesetting library takes by itself.
//!
//! Run: cargo bench --bench packet

#![allow(missing_docs, reason = "criterion's macros make public functions")]

#[path = "../support/winding.rs"]
mod winding;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use runwright::export::{Exporter, Packet, PlanJson};
use runwright::job::read_job;
use runwright::plan::{plan, read_plan};
use std::hint::black_box;

fn plan_json(pieces: u32) -> Vec<u8> {
    let job = read_job(winding::winding_job(pieces).as_bytes(), "winding").job;
    let plan = plan(&job.expect("the job is right")).expect("a copy is not searched for");
    let mut files = PlanJson.files(&plan).expect("plan.json");
    files.remove(0).bytes
}

fn packets(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("packet");
    group.sample_size(10);
    for pieces in [7, 15, 30, 60] {
        let bytes = plan_json(pieces);
        // The typesetter remembers what it has set; a new job's name makes it set anew.
        let mut job = 0;
        group.bench_with_input(BenchmarkId::from_parameter(pieces), &bytes, |b, bytes| {
            b.iter(|| {
                let mut plan = read_plan(black_box(bytes)).expect("our own plan");
                plan.job = format!("winding {job}");
                job += 1;
                Packet::default().of(&plan).expect("a packet")
            });
        });
    }
    group.finish();
}

criterion_group!(benches, packets);
criterion_main!(benches);
