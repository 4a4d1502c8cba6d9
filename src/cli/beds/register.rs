//! `beds add`, `set`, `list`, `show`: the register.

use super::{StoreArgs, today};
use crate::beds::{Amount, Bed, Price, amount};
use crate::cli::judge::YesNo;
use crate::cli::output::{self, Status, Stop};
use crate::judge::first_day;
use crate::record::CONTRACT;
use crate::report::beds as page;
use crate::specs::Specs;
use serde::Serialize;

/// Duties that the contract knows.
const DUTIES: [&str; 6] =
    ["softening", "dealkalizing", "nitrate", "organics-scavenging", "demineralizing", "polishing"];

/// What can be said of a bed.
#[derive(Debug, Default, clap::Args)]
pub struct Facts {
    /// What it is for: softening, dealkalizing, nitrate, organics-scavenging, demineralizing, polishing
    #[arg(long, value_name = "DUTY", value_parser = DUTIES, hide_possible_values = true)]
    pub duty: Option<String>,
    /// What somebody complains of
    #[arg(long, value_name = "TEXT")]
    pub complaint: Option<String>,
    /// Class of the resin, as sac-gel-8
    #[arg(long, value_name = "ID")]
    pub class: Option<String>,
    /// Product and sheet of the resin
    #[arg(long, value_name = "TEXT")]
    pub product: Option<String>,
    /// Volume of resin at start-up, as "10 ft3"
    #[arg(long, value_name = "AMOUNT")]
    pub volume: Option<String>,
    /// Inner width of the tank, as "24 in"
    #[arg(long, value_name = "AMOUNT")]
    pub bore: Option<String>,
    /// Straight height of the tank, as "72 in"
    #[arg(long, value_name = "AMOUNT")]
    pub height: Option<String>,
    /// Freeboard at start-up, as "22 in"
    #[arg(long, value_name = "AMOUNT")]
    pub freeboard: Option<String>,
    /// Water between regenerations when the charge was new, as "9000 gal"
    #[arg(long, value_name = "AMOUNT")]
    pub run: Option<String>,
    /// Day the charge was put in, as 2016-05-20, 2016-05 or 2016
    #[arg(long, value_name = "DATE")]
    pub installed: Option<String>,
    /// Whether people drink the water
    #[arg(long, value_enum, value_name = "yes|no", hide_possible_values = true)]
    pub drinking: Option<YesNo>,
    /// Price of new resin, as "180 USD/ft3"
    #[arg(long, value_name = "PRICE")]
    pub resin_price: Option<String>,
    /// Analysis of the water, as feed_hardness="15 gpg"; may be given more than once
    #[arg(long, value_name = "QUANTITY=AMOUNT")]
    pub water: Vec<String>,
    /// Anything else
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
}

/// Register a bed
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::ADD)]
pub struct Add {
    /// Plant or customer
    #[arg(long, value_name = "NAME")]
    pub site: String,
    /// Tank, softener, column
    #[arg(long, value_name = "NAME")]
    pub vessel: String,
    #[command(flatten)]
    pub facts: Facts,
}

/// Change what is known of a bed
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::SET)]
pub struct Set {
    /// The bed
    #[arg(value_name = "BED")]
    pub bed: String,
    /// Another name of its site
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,
    /// Another name of its vessel
    #[arg(long, value_name = "NAME")]
    pub vessel: Option<String>,
    #[command(flatten)]
    pub facts: Facts,
}

/// List the beds
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::LIST)]
pub struct List {
    /// Only of this site
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,
    /// Print one JSON document instead of a page
    #[arg(long)]
    pub json: bool,
}

/// Show what is known of a bed
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::SHOW)]
pub struct Show {
    /// The bed
    #[arg(value_name = "BED")]
    pub bed: String,
    /// Print one JSON document instead of a page
    #[arg(long)]
    pub json: bool,
}

/// Beds as a JSON document.
#[derive(Serialize)]
struct Beds<'a> {
    contract: u32,
    beds: &'a [Bed],
}

/// Runs `beds add`.
pub fn add(store: &StoreArgs, args: &Add) -> Result<Status, Stop> {
    let mut bed = Bed::named(&args.site, &args.vessel);
    apply(&args.facts, &mut bed)?;
    let id = store.begin()?.add_bed(&bed)?;
    output::print(&format!("{id}\n"))?;
    Ok(Status::AllRead)
}

/// Runs `beds set`.
pub fn set(store: &StoreArgs, args: &Set) -> Result<Status, Stop> {
    let mut store = store.open()?;
    let mut bed = store.bed(&args.bed)?;
    if let Some(site) = &args.site {
        site.trim().clone_into(&mut bed.site);
    }
    if let Some(vessel) = &args.vessel {
        vessel.trim().clone_into(&mut bed.vessel);
    }
    apply(&args.facts, &mut bed)?;
    store.set_bed(&bed)?;
    output::print(&page::entry(&bed, &output::look()))?;
    Ok(Status::AllRead)
}

/// Runs `beds list`.
pub fn list(store: &StoreArgs, args: &List) -> Result<Status, Stop> {
    let beds = store.look()?.beds(args.site.as_deref())?;
    if args.json {
        output::print_json(&Beds { contract: CONTRACT, beds: &beds })?;
    } else {
        output::print(&page::list(&beds, &output::look()))?;
    }
    Ok(Status::AllRead)
}

/// Runs `beds show`.
pub fn show(store: &StoreArgs, args: &Show) -> Result<Status, Stop> {
    let bed = store.look()?.bed(&args.bed)?;
    if args.json {
        output::print_json(&Beds { contract: CONTRACT, beds: &[bed] })?;
    } else {
        output::print(&page::entry(&bed, &output::look()))?;
    }
    Ok(Status::AllRead)
}

fn apply(facts: &Facts, bed: &mut Bed) -> Result<(), Stop> {
    let text = |from: &Option<String>, to: &mut Option<String>| {
        if let Some(text) = from {
            *to = Some(text.trim().to_owned()).filter(|text| !text.is_empty());
        }
    };
    text(&facts.duty, &mut bed.duty);
    text(&facts.complaint, &mut bed.complaint);
    text(&facts.product, &mut bed.product);
    text(&facts.note, &mut bed.note);
    if let Some(class) = &facts.class {
        let specs = Specs::builtin().map_err(|error| Stop::Failed(error.to_string()))?;
        if specs.class(class).is_none() {
            return Err(crate::cli::knowledge::no_class("--class ", class, specs));
        }
        bed.resin_class = Some(class.clone());
    }
    if let Some(date) = &facts.installed {
        if first_day(date).is_none() {
            return Err(Stop::Usage(format!("--installed {date}: write a date as 2016-05-20, 2016-05 or 2016")));
        }
        bed.installed_on = Some(date.clone());
    }
    if let Some(drinking) = facts.drinking {
        bed.drinking_water = Some(drinking == YesNo::Yes);
    }
    let typed = |option: &str, quantity: &str, from: &Option<String>, to: &mut Option<Amount>| -> Result<(), Stop> {
        if let Some(from) = from {
            *to = Some(amount(quantity, from).map_err(|error| Stop::Usage(format!("{option}: {error}")))?);
        }
        Ok(())
    };
    typed("--volume", "bed_volume_at_startup", &facts.volume, &mut bed.volume)?;
    typed("--bore", "tank_bore", &facts.bore, &mut bed.tank_bore)?;
    typed("--height", "tank_height", &facts.height, &mut bed.tank_height)?;
    typed("--freeboard", "freeboard_at_startup", &facts.freeboard, &mut bed.freeboard_at_startup)?;
    typed("--run", "volume_between_regenerations", &facts.run, &mut bed.run_at_startup)?;
    for water in &facts.water {
        let (quantity, value) = pair("--water", water)?;
        bed.water.insert(quantity.to_owned(), amount(quantity, value).map_err(Stop::Usage)?);
    }
    if let Some(price) = &facts.resin_price {
        bed.resin_price = Some(priced(price)?);
    }
    Ok(())
}

/// `quantity=amount` in two.
pub(super) fn pair<'a>(option: &str, text: &'a str) -> Result<(&'a str, &'a str), Stop> {
    text.split_once('=')
        .map(|(quantity, value)| (quantity.trim(), value.trim()))
        .ok_or_else(|| Stop::Usage(format!("{option} {text}: write it as freeboard=\"26 in\"")))
}

/// "180 USD/ft3": what a litre costs, and in what.
fn priced(text: &str) -> Result<Price, Stop> {
    let wrong = || Stop::Usage(format!("--resin-price {text}: write it as \"180 USD/ft3\" or \"6.50 EUR/L\""));
    let (money, volume) = text.split_once('/').ok_or_else(wrong)?;
    let (number, currency) = money.trim().split_once(char::is_whitespace).ok_or_else(wrong)?;
    let number: f64 = number.parse().map_err(|_| wrong())?;
    let litres = amount("bed_volume_at_startup", &format!("100 {}", volume.trim())).map_err(|_| wrong())?.value / 100.0;
    if !(number.is_finite() && number >= 0.0 && litres > 0.0) {
        return Err(wrong());
    }
    Ok(Price {
        per_litre: number / litres,
        currency: currency.trim().to_owned(),
        on: Some(today(None)),
        as_written: text.trim().to_owned(),
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_price_is_that_of_a_litre() {
        // 180 / 28.316846592 = 6.3567 a litre.
        let price = priced("180 USD/ft3").unwrap();
        assert!((price.per_litre - 6.356_6).abs() < 1e-3);
        assert_eq!(price.currency, "USD");
        for wrong in ["180", "180 USD", "USD/ft3", "180 USD/kg", "-3 USD/L"] {
            assert!(priced(wrong).is_err(), "{wrong}");
        }
    }
}
