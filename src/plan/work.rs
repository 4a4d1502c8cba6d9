//! Work orders: the cleaning and the next core, with quantities for this bed.

use super::bed::Facts;
use super::error::PlanError;
use super::knowledge::{Fact, Work};
use super::top_off::Geometry;
use crate::judge::{Context, property_words};
use crate::specs::Class;
use serde::Serialize;

/// Acid for one cleaning.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Acid {
    /// Reckoned as 100 %, kg.
    pub pure: f64,
    /// Strength as bought, share by mass.
    pub bought_strength: f64,
    /// Density as bought, g/mL.
    pub bought_density: f64,
    /// As bought, L.
    pub bought: f64,
    /// Strength of the solution, share by mass.
    pub strength: f64,
    /// Solution in all, L.
    pub solution: f64,
    /// Soft water to dilute with, L: what the solution holds beside the acid as bought.
    pub water: f64,
    /// Soda ash that neutralizes all of it, kg.
    pub soda_ash: f64,
}

/// A chemical in the strength that it is bought at.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bought {
    /// In words, as `50 % liquor`.
    pub name: String,
    /// For the bed, L.
    pub litres: Option<f64>,
}

/// One chemical of a cleaning.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Chemical {
    /// What, and on which basis.
    pub name: String,
    /// Dose, g for each litre of resin.
    pub dose: f64,
    /// How it is put on.
    pub basis: String,
    /// Where the dose was read.
    pub source: String,
    /// Dose for the bed, kg.
    pub quantity: Option<f64>,
    /// As it is bought, where that is not the pure chemical.
    pub bought: Option<Bought>,
    /// Whether it is the acid, whose dilution [`Acid`] holds.
    pub is_acid: bool,
}

/// A cleaning of this bed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cleaning {
    /// Recipe by id.
    pub recipe: String,
    /// In words.
    pub title: String,
    /// Causes that it answers.
    pub answers: Vec<String>,
    /// Resin, L.
    pub volume: Option<f64>,
    /// What goes in, in the order of the recipe; empty where the product's label says it.
    pub chemicals: Vec<Chemical>,
    /// The acid, where it is one.
    pub acid: Option<Acid>,
    /// Hottest solution, Cel, by recipe, resin and tank.
    pub temperature_most: f64,
    /// What sets that limit.
    pub temperature_by: &'static str,
    /// Rest of the order.
    pub work: Work,
    /// How to know that it is done.
    pub end_check: String,
    /// Cautions, which stand before the first step.
    pub cautions: Vec<String>,
    /// Whether it is for a bed that people drink from.
    pub drinking_water: bool,
}

/// Litres of acid of a strength (share by mass) and density (g/mL) that hold a mass (kg) of pure acid.
///
/// ```
/// use beadwise::plan::{acid_litres, softening::{G_PER_LB, L_PER_GAL}};
/// // 10 lb of HCl are about 3.3 US gal of 31 % acid.
/// let litres = acid_litres(10.0 * G_PER_LB / 1000.0, 0.31, 1.155);
/// assert!((litres / L_PER_GAL - 3.3).abs() < 0.06);
/// ```
pub fn acid_litres(pure: f64, strength: f64, density: f64) -> f64 {
    pure / strength / density
}

/// The work order for the recipe asked for, else for the first that the judgement names; none where none is called for.
///
/// # Errors
/// [`PlanError::NoRecipe`] where the asked one does not answer this bed.
pub fn cleaning(
    facts: &Facts<'_>,
    shape: &Geometry,
    class: &Class,
    context: &Context<'_>,
    asked: Option<&str>,
) -> Result<Option<Cleaning>, PlanError> {
    let bed = facts.bed;
    let remedy = match asked {
        // One that has a work order before one that the page can only name.
        None => {
            bed.offered().find(|remedy| facts.knowledge.work(&remedy.recipe).is_some()).or_else(|| bed.offered().next())
        }
        Some(id) => {
            let found = bed.offered().find(|remedy| remedy.recipe == id);
            if found.is_none() {
                let known: Vec<&str> = bed.offered().map(|remedy| remedy.recipe.as_str()).collect();
                let known = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
                return Err(PlanError::NoRecipe { found: id.to_owned(), known });
            }
            found
        }
    };
    let Some(remedy) = remedy else { return Ok(None) };
    let (Some(recipe), Some(work)) = (context.policy.recipe(&remedy.recipe), facts.knowledge.work(&remedy.recipe))
    else {
        return Ok(None);
    };
    let volume = shape.volume;
    let chemicals: Vec<Chemical> = recipe
        .dose
        .iter()
        .map(|dose| Chemical {
            name: dose.chemical.clone(),
            dose: dose.value,
            basis: dose.text.clone(),
            source: dose.source.clone(),
            quantity: volume.map(|volume| dose.value * volume / 1000.0),
            bought: dose.supplied.as_ref().map(|supplied| {
                let pure = volume.map(|volume| dose.value * volume / 1000.0);
                Bought {
                    name: supplied.name.clone(),
                    litres: pure.map(|pure| acid_litres(pure, supplied.share, supplied.density)),
                }
            }),
            is_acid: dose.is_acid,
        })
        .collect();
    let quantity = chemicals.iter().find(|chemical| chemical.is_acid).and_then(|chemical| chemical.quantity);
    let acid = quantity.zip(work.acid.as_ref()).and_then(|(pure, solution)| {
        let strength = facts.look(Fact::AcidStrength)?;
        let density = facts.look(Fact::AcidDensity)?;
        let bought = acid_litres(pure, strength, density);
        let whole = acid_litres(pure, solution.strength, solution.density);
        // By mass: volumes of acid and water do not add up, and the water's kilograms are its litres.
        let water = (pure / solution.strength - pure / strength).max(0.0);
        Some(Acid {
            pure,
            bought_strength: strength,
            bought_density: density,
            bought,
            strength: solution.strength,
            solution: whole,
            water,
            soda_ash: pure * facts.look(Fact::SodaAsh)?,
        })
    });
    let limits = [
        (remedy.temperature_max, "the recipe and the resin"),
        (class.fact("temperature_max_oh").or_else(|| class.fact("temperature_max")), "the resin"),
        (facts.look(Fact::TankTemperatureMost), "the tank and valve"),
    ];
    let lowest = limits
        .into_iter()
        .filter_map(|(limit, by)| Some((limit?, by)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or((25.0, "caution"));
    let mut ids: Vec<&str> = vec!["pressure"];
    if bed.about.drinking_water != Some(false) {
        ids.push("drinking-water");
    }
    ids.extend(recipe.cautions.iter().map(String::as_str).filter(|id| *id != "drinking-water" && *id != "licence"));
    ids.push("licence");
    let cautions = ids.iter().filter_map(|id| context.policy.caution(id)).map(|caution| caution.text.clone()).collect();
    Ok(Some(Cleaning {
        recipe: remedy.recipe.clone(),
        title: recipe.title.clone(),
        answers: remedy.answers.clone(),
        volume,
        chemicals,
        acid,
        temperature_most: lowest.0,
        temperature_by: lowest.1,
        work: work.clone(),
        end_check: recipe.end_check.clone(),
        cautions,
        drinking_water: recipe.drinking_water,
    }))
}

/// The next core of this bed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sampling {
    /// Least length of pipe in the resin, m: half the bed's depth.
    pub in_resin: Option<f64>,
    /// Least length of the pipe, m: freeboard and half the depth.
    pub pipe: Option<f64>,
    /// Bore of the pipe, m.
    pub pipe_bore: f64,
    /// Whether its top needs a valve.
    pub valve: bool,
    /// Resin that one thrust through half the depth brings, L.
    pub thrust: Option<f64>,
    /// Thrusts that fill the jar.
    pub thrusts: Option<f64>,
    /// Resin that the laboratory wants, L.
    pub jar: f64,
    /// Points at which the freeboard is taped.
    pub points: f64,
    /// Spread from which channels are suspected.
    pub spread: f64,
    /// Tests to ask for.
    pub tests: Vec<String>,
}

/// Litres that one thrust brings: bore and length in m, share of the length that stays in the pipe.
///
/// ```
/// // By hand: a 25.4 mm pipe, 0.5 m deep, 70 % of it filled: 5.067 cm2 x 50 cm x 0.7 = 177 mL.
/// assert!((beadwise::plan::thrust_litres(0.0254, 0.5, 0.7) - 0.1773).abs() < 0.0001);
/// ```
pub fn thrust_litres(bore: f64, length: f64, filled: f64) -> f64 {
    std::f64::consts::PI / 4.0 * bore * bore * length * filled * 1000.0
}

/// What the next core needs.
pub fn sampling(facts: &Facts<'_>, shape: &Geometry, class: Option<&Class>, context: &Context<'_>) -> Sampling {
    let at = |fact| facts.look(fact).unwrap_or(f64::NAN);
    let in_resin = shape.depth.map(|depth| depth / 2.0);
    let freeboard = facts.bed.known(Fact::Freeboard).map(|known| known.value);
    let pipe_bore = at(Fact::PipeBore);
    let jar = at(Fact::Jar);
    let thrust = in_resin.map(|length| thrust_litres(pipe_bore, length, at(Fact::PipeFill)));
    let mut tests: Vec<String> = Vec::new();
    let wanted = class.map_or(&[][..], |class| context.policy.wanted(class.family));
    for property in wanted.iter().chain(&facts.bed.missing) {
        // Freeboard and the like are taped on site, not asked of a laboratory.
        if Fact::by_id(property).is_some() || property == "resin_class" {
            continue;
        }
        let name = if property.starts_with("organics") {
            "organic matter (say which test)".to_owned()
        } else {
            property_words(property)
        };
        if !tests.contains(&name) {
            tests.push(name);
        }
    }
    if shape.depth.is_none() {
        facts.ask(Fact::BedDepth);
    }
    Sampling {
        in_resin,
        pipe: in_resin.zip(freeboard).map(|(half, freeboard)| half + freeboard),
        pipe_bore,
        valve: shape.bore.is_some_and(|bore| bore >= at(Fact::LargeTank)),
        thrust,
        thrusts: thrust.map(|thrust| (jar / thrust - 1e-9).ceil()),
        jar,
        points: at(Fact::DepthPoints),
        spread: at(Fact::DepthSpread),
        tests,
    }
}
