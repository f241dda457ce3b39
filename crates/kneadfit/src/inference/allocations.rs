//! What a fit allocates: room before its iterations, nothing inside them.

use allocation_counter::measure;

use super::conditional::{Conditioner, Whitened};
use super::mode::linearise;
use super::newton::{Near, Search};
use super::posterior::coordinates_of;
use crate::batch::{Batch, BatchLog, Reading};
use crate::charge::{Charge, Material, Phase};
use crate::fit::solver::{Options, Workspace};
use crate::fit::{HeatReadings, MistypedRows, ProblemRoom, Readings, Suspicion, WhitenedProblem};
use crate::prior::{Coefficient, heat_coefficients};
use crate::thermal::{HeatModel, Uncertainties};

/// Twelve batches, every third of them read twice.
fn readings() -> (HeatReadings, Vec<Coefficient>) {
    let speeds = ["low", "high"];
    let batches = (0..12).map(|i| {
        let day = f64::from(i);
        let charge = Charge::new(18.0 + day).with(Material::Flour, 8.0 + 0.5 * day, 20.0).with(
            Material::Water,
            5.0 + 0.4 * day,
            6.0 + 0.3 * day,
        );
        let batch = Batch::new(format!("{i}"), charge, vec![Phase::mixing("low", 3.0 + 0.2 * day)])
            .read_dough(19.0 + 0.9 * day);
        if i % 3 == 0 {
            let reading = Reading { dough_c: Some(24.0 + day), development: None };
            batch.then(vec![Phase::mixing("high", 5.0)], reading)
        } else {
            batch
        }
    });
    let log = BatchLog::new("spiral", speeds, batches.collect()).unwrap();
    let model = HeatModel::new(14.0);
    let table = heat_coefficients(&model, &log.speeds, &[]);
    (HeatReadings::new(model, Uncertainties::default(), &log, &[], &table).unwrap(), table)
}

fn start(table: &[Coefficient]) -> Vec<f64> {
    table.iter().map(|c| c.scale.fitted(c.start())).collect()
}

#[test]
fn a_pass_of_newtons_search_allocates_nothing() {
    let (mut readings, table) = readings();
    let coordinates = coordinates_of(&table);
    let mut w = Whitened { lin: readings.shape(), ..Whitened::default() };
    let mut c = Conditioner::new(&w, Some(MistypedRows::TEMPERATURES));
    let mut search = |passes: usize| {
        let (mut fitted, mut tau) = (start(&table), 0.4);
        let mut met = Ok(true);
        let counted = measure(|| {
            // Nearer than anything: every pass is made.
            let search = Search { scale: Some(0.5), near: Near::Spreads(0.0), passes };
            met = search.run(&mut readings, &coordinates, &mut c, &mut w, &mut fitted, &mut tau);
        });
        assert_eq!(met, Ok(false), "{passes} passes");
        counted.count_total
    };
    let (first, few, many) = (search(2), search(2), search(20));
    // Room is made once: the test sees that allocations are counted at all.
    assert!(first > 0);
    assert_eq!((few, many), (0, 0));
}

#[test]
fn an_iteration_of_the_solver_allocates_nothing() {
    let (mut readings, table) = readings();
    let coordinates = coordinates_of(&table);
    let mut w = Whitened { lin: readings.shape(), ..Whitened::default() };
    linearise(&mut readings, &mut w, &coordinates, &start(&table)).unwrap();
    let suspicion = Suspicion::none(w.lin.batch_count(), w.lin.reading_count());
    let mut workspace = Workspace::new(coordinates.len());
    let mut room = ProblemRoom::default();
    let mut solve = |iteration_limit: u64| {
        let mut fitted = start(&table);
        let options = Options { iteration_limit, offset_tolerance: 0.0, ..Options::default() };
        let mut iterations = 0;
        let counted = measure(|| {
            let lin = &mut w.lin;
            let summary = WhitenedProblem::whitened(
                &mut readings,
                &coordinates,
                lin,
                0.4,
                &suspicion,
                &mut room,
            )
            .unwrap()
            .solve(&options, &mut workspace, &mut fitted);
            iterations = summary.iterations;
        });
        (iterations, counted.count_total)
    };
    solve(1);
    let ((some, few), (more, many)) = (solve(1), solve(6));
    assert!(more > some + 2, "{some} and {more} iterations");
    assert_eq!(few, many, "allocations of {some} and of {more} iterations");
}
