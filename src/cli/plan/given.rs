//! Figures of the bed as they are given on the command line: each with its unit.

use crate::plan::{Fact, Input, Knowledge, Known, Origin};
use crate::quantity::{CACO3_GRAMS_PER_EQUIVALENT, Unit, UnitKind};

/// Facts with what was given for them.
pub type Figures = Vec<(Fact, Known)>;

macro_rules! options {
    ($($part:ident $group:ident $heading:literal { $($(#[doc = $doc:literal])* $field:ident $fact:ident $value:literal),* $(,)? })*) => {
        /// All figures that can be told.
        #[derive(Debug, Default, clap::Args)]
        pub struct Given {
            $(#[command(flatten)] $part: $group,)*
        }

        $(
            #[derive(Debug, Default, clap::Args)]
            #[command(next_help_heading = $heading)]
            struct $group {
                $($(#[doc = $doc])* #[arg(long, value_name = $value, allow_hyphen_values = true, hide_short_help = $heading == DETAILS)] $field: Option<String>,)*
            }
        )*

        impl Given {
            fn told(&self) -> Vec<(Fact, &str)> {
                let mut told = Vec::new();
                $($(if let Some(text) = &self.$part.$field {
                    told.push((Fact::$fact, text.as_str()));
                })*)*
                told
            }
        }
    };
}

const DETAILS: &str = "Details, each with a default";

options! {
    bed Bed "The bed" {
        /// Inside diameter of the tank
        tank_bore TankBore "24in",
        /// Height of the tank's straight side
        tank_height TankHeight "60in",
        /// Freeboard now, from the rim to the bed
        freeboard Freeboard "30in",
        /// Freeboard at start-up, from the same rim
        freeboard_at_startup FreeboardAtStartup "24in",
        /// Depth of the bed
        bed_depth BedDepth "36in",
        /// Resin in the tank now
        bed_volume BedVolume "10ft3",
        /// Resin in the tank at start-up
        bed_volume_at_startup BedVolumeAtStartup "10ft3",
        /// Gravel under the bed
        gravel Gravel "1ft3",
        /// Moisture now, where the report does not say
        moisture Moisture "48%",
        /// Moisture of the resin when new
        moisture_new MoistureNew "46%",
        /// Harmonic mean size of the beads
        bead_size BeadSize "0.65mm",
    }
    water Waters "The water" {
        /// Hardness of the feed, in the worst season
        feed_hardness FeedHardness "20gpg",
        /// Hardness when the meter was set
        feed_hardness_before FeedHardnessBefore "20gpg",
        /// Hardness wanted after blending raw water in
        blend_hardness BlendHardness "5gpg",
        /// Hardness that comes through the softener
        outlet_hardness OutletHardness "1mg/L",
        /// Iron of the feed
        feed_iron FeedIron "1mg/L",
        /// Manganese of the feed
        feed_manganese FeedManganese "0.1mg/L",
        /// Coldest water of the year
        temperature Temperature "50F",
        /// Nitrate of the feed, as NO3 unless "as N" is said
        feed_nitrate FeedNitrate "60mg/L",
        /// Sulfate of the feed
        feed_sulfate FeedSulfate "80mg/L",
        /// Alkalinity of the feed, as CaCO3
        feed_alkalinity FeedAlkalinity "200mg/L",
        /// Chloride of the feed
        feed_chloride FeedChloride "30mg/L",
        /// Dissolved solids of the feed, reckoned as salt
        feed_tds FeedTds "500mg/L",
    }
    service Service "Service and regeneration" {
        /// Heaviest day's use
        daily_use DailyUse "900gal",
        /// Water softened in a year
        yearly_use YearlyUse "250000gal",
        /// Water between regenerations now
        volume_between_regenerations Run "4000gal",
        /// Water between regenerations when the resin was new
        volume_between_regenerations_before RunBefore "6000gal",
        /// Salt for each regeneration
        salt_per_regeneration SaltPerRegeneration "80lb",
        /// Salt for each volume of resin, over what salt and volume give
        salt_dose SaltDose "8lb/ft3",
        /// Salt dose when the resin was new
        salt_dose_before SaltDoseBefore "8lb/ft3",
        /// Peak service flow
        flow Flow "30gpm",
        /// Pressure drop across the bed at that flow
        pressure_drop PressureDrop "12psi",
        /// Flow of the brine tank's refill
        refill_flow RefillFlow "0.5gpm",
        /// Run that a seller claims, by volume of resin
        claimed_throughput ClaimedThroughput "2000gal/ft3",
    }
    prices Prices "Prices, yours and of one date" {
        /// Price of salt
        salt_price SaltPrice "0.20/lb",
        /// Price of water and sewer
        water_price WaterPrice "12/1000gal",
        /// Price of new resin
        resin_price ResinPrice "120/ft3",
        /// Price of getting rid of old resin
        disposal_price DisposalPrice "20/ft3",
        /// Cost of a cleaning: visit, chemicals, waste
        cleaning_cost CleaningCost "400",
        /// Labour of a top-off
        top_off_labour TopOffLabour "250",
        /// Labour of a replacement
        rebed_labour RebedLabour "600",
        /// Years looked ahead
        horizon Horizon "5",
        /// Discount rate
        discount_rate DiscountRate "5%",
    }
    details Details "Details, each with a default" {
        /// Grains a gallon that a mg/L of iron counts for
        iron_factor IronFactor "4",
        /// Grains a gallon that a mg/L of manganese counts for
        manganese_factor ManganeseFactor "2",
        /// Reserve where no day's use is known
        reserve Reserve "20%",
        /// Step of the meter
        meter_step MeterStep "25gal",
        /// Least salt dose for water that is soft throughout, where --feed-tds is not told
        least_dose LeastDose "5lb/ft3",
        /// Most hardness that may come through
        leakage_most LeakageMost "1gpg",
        /// Selectivity of the resin for hardness over sodium
        hardness_selectivity HardnessSelectivity "2.6",
        /// Water for each regeneration, by volume of resin
        water_per_regeneration WaterPerRegeneration "75gal/ft3",
        /// Brine at the resin, salt by mass
        brine_strength BrineStrength "10%",
        /// Density of that brine
        brine_density BrineDensity "1.07g/mL",
        /// Brine and slow rinse, bed volumes an hour
        brine_rate BrineRate "4",
        /// Slow rinse, bed volumes
        slow_rinse SlowRinse "2",
        /// Fast rinse, bed volumes
        fast_rinse FastRinse "4",
        /// Time of the backwash
        backwash_time BackwashTime "10min",
        /// Salt that refill water dissolves
        salt_to_water SaltToWater "3lb/gal",
        /// Most days between regenerations
        day_override DayOverride "7",
        /// The same with iron in the water
        day_override_iron DayOverrideIron "3",
        /// Iron from which that holds
        iron_from IronFrom "0.3mg/L",
        /// First efficiency line, grains to the pound
        efficiency_rated EfficiencyRated "3350",
        /// Second efficiency line, grains to the pound
        efficiency_strict EfficiencyStrict "4000",
        /// Share of strong-base capacity that a nitrate run uses, at least
        nitrate_use_low NitrateUseLow "40%",
        /// The same, at most
        nitrate_use_high NitrateUseHigh "60%",
        /// Voids of the settled bed
        voidage Voidage "0.38",
        /// Measured over clean pressure drop from which to look
        pressure_drop_factor PressureDropFactor "2",
        /// Most that a bed should stand
        pressure_drop_most PressureDropMost "20psi",
        /// Volume of the bottom head over the cube of the bore
        bottom_head BottomHead "0.131",
        /// How far the tape may be off
        tape Tape "1in",
        /// Resin in a bag
        bag Bag "1ft3",
        /// How far prices may move
        price_spread PriceSpread "10%",
        /// How far the year's use may move
        use_spread UseSpread "15%",
        /// Hottest solution for tank and valve
        tank_temperature_most TankTemperatureMost "100F",
        /// Strength of the acid bought
        acid_strength AcidStrength "31%",
        /// Density of that acid
        acid_density AcidDensity "1.155g/mL",
        /// Soda ash for each mass of pure acid
        soda_ash SodaAsh "1.4535",
        /// Bore of the sampling pipe
        pipe_bore PipeBore "1in",
        /// Share of a thrust that stays in the pipe
        pipe_fill PipeFill "70%",
        /// Resin that the laboratory wants
        jar Jar "1L",
        /// Bore from which the pipe needs a valve
        large_tank LargeTank "30in",
        /// Points at which the bed is taped
        depth_points DepthPoints "10",
        /// Spread of readings that speaks of channels
        depth_spread DepthSpread "15%",
    }
}

impl Given {
    /// The figures in canonical units.
    ///
    /// # Errors
    /// The first that cannot be read, with how to write it.
    pub fn read(&self, knowledge: &Knowledge) -> Result<Figures, String> {
        let mut figures = Vec::new();
        for (fact, text) in self.told() {
            let option = fact.id().replace('_', "-");
            let input = knowledge.input(fact).ok_or_else(|| format!("--{option}: nothing is known of it"))?;
            let value = canonical(text, input).map_err(|wrong| format!("--{option} {text}: {wrong}"))?;
            figures.push((fact, Known { value, from: Origin::Given }));
        }
        Ok(figures)
    }
}

/// A number and what stands behind it.
fn number(text: &str) -> Result<(f64, &str), String> {
    let text = text.trim();
    let end = text
        .char_indices()
        .find(|(at, c)| !(c.is_ascii_digit() || matches!(c, '.' | ',') || (*at == 0 && matches!(c, '-' | '+'))))
        .map_or(text.len(), |(at, _)| at);
    let (digits, rest) = text.split_at(end);
    let grouped = digits.split('.').next().unwrap_or_default();
    let mut groups = grouped.trim_start_matches(['-', '+']).split(',');
    let first = groups.next().unwrap_or_default();
    let is_grouped = groups.clone().count() > 0;
    if is_grouped && (first.len() > 3 || first.is_empty() || groups.any(|group| group.len() != 3)) {
        return Err("decimals are written with a point".to_owned());
    }
    let value: f64 = digits.replace(',', "").parse().map_err(|_| "there is no number in it".to_owned())?;
    Ok((value, rest.trim()))
}

/// A figure as it is written, in the canonical unit of its input.
///
/// # Errors
/// What is wrong with it and how to write it.
pub fn canonical(text: &str, input: &Input) -> Result<f64, String> {
    let (value, printed) =
        number(text).map_err(|why| format!("{why}; write a figure with its unit ({})", example(input)))?;
    if let Some(per) = input.unit.strip_prefix("money/") {
        return price(value, printed, per);
    }
    match input.unit.as_str() {
        "money" if printed.is_empty() => return Ok(value),
        "money" => return Err("it is an amount alone, without a unit".to_owned()),
        "a" | "d" if printed.is_empty() => return Ok(value),
        "gr/lb" if matches!(printed, "" | "gr/lb") => return Ok(value),
        "1" if printed.is_empty() => return Ok(value),
        _ => {}
    }
    let units = example(input);
    let first = units.split([',', ' ']).next().unwrap_or_default();
    let wanted = || format!("write it with its unit ({units}), as {}{first}", plain(value));
    if printed.is_empty() {
        return Err(wanted());
    }
    let (printed, nitrogen) = match printed.strip_suffix("as N") {
        Some(rest) => (rest.trim(), true),
        None => (printed, false),
    };
    let unit = Unit::parse(printed).ok_or_else(|| format!("{printed} is no unit known here; {}", wanted()))?;
    let nitrogen = nitrogen || matches!(unit.substance.as_deref(), Some("N" | "NO3-N"));
    if input.unit == "1" {
        let share = Unit::parse("%").and_then(|percent| unit.convert(value, &percent)).map(|percent| percent / 100.0);
        let ratio = (unit.dimension == crate::quantity::Dimension::default()).then_some(value * unit.factor);
        return share.or(ratio).ok_or_else(|| "it is a share or a plain number".to_owned());
    }
    // The contract's name of the unit is no spelling that a laboratory prints.
    let canonical = if input.unit == "Cel" { "°C" } else { input.unit.as_str() };
    let target = Unit::parse(canonical).ok_or_else(wanted)?;
    if let Some(value) = unit.convert(value, &target) {
        // N to NO3 by molar mass: 62.004 over 14.007.
        return Ok(if nitrogen && input.substance.as_deref() == Some("NO3") { value * 62.004 / 14.007 } else { value });
    }
    // Dilute water: parts per million by mass are milligrams a litre.
    if input.unit == "mg/L" && unit.kind == UnitKind::PartsPerMillion {
        return Ok(value);
    }
    // Equivalents of hardness or alkalinity.
    if input.substance.as_deref() == Some("CaCO3")
        && let Some(equivalents) = Unit::parse("eq/L").and_then(|eq| unit.convert(value, &eq))
    {
        return Ok(equivalents * CACO3_GRAMS_PER_EQUIVALENT * 1000.0);
    }
    Err(format!("{printed} does not measure this; {}", wanted()))
}

/// A price for each canonical unit.
fn price(value: f64, printed: &str, per: &str) -> Result<f64, String> {
    let wanted = || format!("write it as a price for a unit, as in {}/{per}", plain(value));
    let printed = printed.strip_prefix('/').or_else(|| printed.strip_prefix("per ")).ok_or_else(wanted)?.trim();
    let (count, unit) =
        if printed.starts_with(|c: char| c.is_ascii_digit()) { number(printed)? } else { (1.0, printed) };
    let unit = Unit::parse(unit).ok_or_else(wanted)?;
    let canonical = Unit::parse(per).and_then(|canonical| unit.convert(count, &canonical)).ok_or_else(wanted)?;
    if canonical > 0.0 { Ok(value / canonical) } else { Err(wanted()) }
}

fn plain(value: f64) -> String {
    format!("{value}")
}

/// A unit that the input takes, as most would write it.
fn example(input: &Input) -> &str {
    match input.unit.as_str() {
        "m" => "in or m",
        "L" => "gal, ft3 or L",
        "mg/L" if input.substance.as_deref() == Some("CaCO3") => "gpg or mg/L",
        "Cel" => "F or C",
        "kg" => "lb or kg",
        "g/L" => "lb/ft3 or g/L",
        "L/h" => "gpm or L/h",
        "kPa" => "psi or kPa",
        unit => unit,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn read(fact: Fact, text: &str) -> Result<f64, String> {
        canonical(text, Knowledge::builtin().unwrap().input(fact).unwrap())
    }

    #[test]
    fn figures_are_read_with_their_units() {
        for (fact, text, wanted) in [
            (Fact::TankBore, "24in", 0.6096),
            (Fact::TankBore, "24 in", 0.6096),
            (Fact::Freeboard, "-2in", -0.0508),
            (Fact::FeedHardness, "20gpg", 342.361),
            (Fact::FeedHardness, "342 mg/L", 342.0),
            (Fact::FeedHardness, "342ppm", 342.0),
            (Fact::FeedHardness, "6.84meq/L", 342.0),
            (Fact::DailyUse, "1,200 gal", 4542.494),
            (Fact::SaltDose, "8lb/ft3", 128.1477),
            (Fact::Temperature, "50F", 10.0),
            (Fact::FeedNitrate, "10mg/L as N", 44.27),
            (Fact::Reserve, "20%", 0.2),
            (Fact::WaterPerRegeneration, "75gal/ft3", 10.026),
            (Fact::SaltPrice, "0.20/lb", 0.440925),
            (Fact::WaterPrice, "12/1000gal", 0.00317007),
            (Fact::ResinPrice, "120 per ft3", 4.23776),
            (Fact::Horizon, "5", 5.0),
            (Fact::RefillFlow, "0.5gpm", 113.562),
            (Fact::PressureDrop, "12psi", 82.737),
        ] {
            let found = read(fact, text).unwrap_or_else(|error| unreachable!("{text}: {error}"));
            assert!((found - wanted).abs() <= wanted.abs() * 2e-4, "{text}: {found} against {wanted}");
        }
    }

    #[test]
    fn what_cannot_be_meant_says_how_to_write_it() {
        for (fact, text, part) in [
            (Fact::FeedHardness, "20", "gpg or mg/L"),
            (Fact::TankBore, "24", "in or m"),
            (Fact::TankBore, "24gpg", "does not measure"),
            (Fact::TankBore, "0,61m", "point"),
            (Fact::TankBore, "wide", "no number"),
            (Fact::SaltPrice, "0.20", "price"),
            (Fact::CleaningCost, "400gal", "amount alone"),
            (Fact::TankBore, "", "no number"),
        ] {
            let error = read(fact, text).unwrap_err();
            assert!(error.contains(part), "{text}: {error}");
        }
    }
}
