//! The cautions, in plain words, that stand wherever the advice stands.
//!
//! Absent: layout. The page and the reports print these as they are.

/// Stands on every page of advice.
pub const GENERAL: &str = "This is arithmetic on your own record. It advises; you decide. It does not see the bird: \
look at it, feel the breastbone and judge before you act. For anything about health ask an avian vet.";

/// Stands beside every weight to fly at.
pub const FLYING_WEIGHT: &str = "The aim is the highest weight that still gives a good answer. Hunger is no substitute for \
training: when answers are poor, look first at fear, place, weather, fitness and health. Never cut weight to hurry a step.";

/// Stands beside every ration.
pub const RATION: &str = "The amount is for the whole day, rewards and all. Set the floor with an avian vet and never go under it. Do not feed again before the casting is up or \
while there is food in the crop. Small birds can die of a small loss, sooner in the cold: weigh them twice a day. \
Never starve a bird to test it.";

/// Stands beside every forecast.
pub const FORECAST: &str = "The band holds nine weigh-ins in ten when the food is noted as eaten. The tenth falls outside it. \
Weigh at the same hour, on the same scale, crop empty and casting up.";

/// Stands beside the training step.
pub const TRAINING: &str = "Gates are common practice, not science. Fly loose only where the law and the landowner allow it, with a \
licence where one is needed, a telemetry that you have just tested, and someone who has done it before.";

/// Stands beside every alarm that stops the flying.
pub const STOP: &str = "Stop flying. Put the bird somewhere warm, dark and quiet, and call an avian vet now. A weak, thin bird needs \
warmth and fluids before food, and no full crop and no casting: ask the vet what to give and when.";

/// Stands where food from the field is noted.
pub const LEAD: &str = "Do not feed quarry that was shot: fragments of lead kill. Lime-green mutes, clenched feet, weakness or \
fits after such food are an emergency.";

/// Stands where handling is spoken of.
pub const HANDLER: &str = "Talons and beaks injure hands and eyes: glove on, bird away from faces. Raw food and droppings carry \
salmonella, psittacosis, bird flu and other illness: wash hands, keep bird food apart, clean every wound and see a doctor about bites.";

/// Stands where any rule of law is touched.
pub const LAW: &str = "Rules on keeping, flying and hunting with birds differ by place. Check your own.";

/// Every caution with a short name, in the order in which a page should show them.
pub const ALL: &[(&str, &str)] = &[
    ("general", GENERAL),
    ("flying weight", FLYING_WEIGHT),
    ("ration", RATION),
    ("forecast", FORECAST),
    ("training", TRAINING),
    ("stop", STOP),
    ("lead", LEAD),
    ("handler", HANDLER),
    ("law", LAW),
];
