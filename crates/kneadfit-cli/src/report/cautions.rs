//! What to mind at the machine and with the dough.

use super::html::Html;

const CAUTIONS: [&str; 8] = [
    "This page describes how one mixer treats dough. It is no instruction for working at the \
     machine: the maker’s manual, local rules and the licensed trades come first.",
    "Stop the mixer and let the tool come to rest before a probe, a scraper or a hand goes near \
     it. Never defeat a guard or an interlock to take a reading.",
    "Before cleaning or service, cut the machine off from its supply and secure it against being \
     switched on. Work on motor and wiring is for a licensed electrician under the local code.",
    "Raw flour and raw dough are not ready to eat. Do not taste them to judge a dough.",
    "Flour dust sensitises lungs and skin: pour low, start slow, keep it out of the air.",
    "A forecast of a dough temperature is no control of food safety; measure where safety asks \
     for a temperature.",
    "The numbers hold for this machine, its bowl and its tool, within what was logged. Outside \
     of that, and after a repair or a new tool, mix a batch and measure before trusting them.",
    "An interval at its stated confidence misses now and then, by its very meaning.",
];

/// The section.
pub fn write(page: &mut Html) {
    page.section("cautions", "Cautions").raw("<ul>\n");
    for caution in CAUTIONS {
        page.element("li", caution);
    }
    page.raw("</ul>\n").end_section();
}
