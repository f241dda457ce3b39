//! Profiles of all kinds, fitted once.

use std::sync::OnceLock;

use kneadfit::calibration::{Options, calibrate};
use kneadfit::profile::{Profile, Provenance};
use kneadfit_log::{ReadOptions, read_log};

const KITCHEN: &str = include_str!("../../data-demo/kitchen-log.csv");
const CANNON: &str = include_str!("../reference/rumford/experiment-1.csv");

/// A profile with the name of its file.
pub struct Named {
    pub name: String,
    pub profile: Profile,
}

fn fit(text: &str, source: &str, options: &Options, suffix: &str) -> Vec<Named> {
    let read = read_log(source, "machine", text.as_bytes(), &ReadOptions::default());
    assert_eq!(read.rows_set_aside(), 0);
    let provenance = Provenance {
        tool: "kneadfit tests".into(),
        logs: vec![source.into()],
        set_aside: vec!["line 3: an invented row, set aside".into()],
        ..Provenance::default()
    };
    read.machines
        .iter()
        .map(|machine| Named {
            name: format!("{}{suffix}", machine.machine()),
            profile: Profile::new(&calibrate(&machine.log, options).unwrap(), &provenance),
        })
        .collect()
}

/// The demo's machines, the same without priors (which leaves coefficients held, at
/// bounds or unknown), and a cylinder of metal without any flour.
pub fn all() -> &'static [Named] {
    static ALL: OnceLock<Vec<Named>> = OnceLock::new();
    ALL.get_or_init(|| {
        let plain = Options { with_prior: false, ..Options::default() };
        let bare = Options { bowl_kj_per_k: Some(0.0), ..plain.clone() };
        let mut all = fit(KITCHEN, "kitchen-log.csv", &Options::default(), "");
        all.extend(fit(KITCHEN, "kitchen-log.csv", &plain, "-no-prior"));
        all.extend(fit(CANNON, "experiment-1.csv", &bare, "-no-prior"));
        all
    })
}

/// One of them.
pub fn named(name: &str) -> &'static Profile {
    &all().iter().find(|n| n.name == name).unwrap().profile
}
