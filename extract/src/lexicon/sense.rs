//! What a word may mean.

use note::{Sign, Sky, Step, Wind};
use serde::Deserialize;

/// One meaning of a phrase. A phrase may have several; the sentence decides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Sense {
    Food(u16),
    Part(u16),
    Behaviour(u16),
    Kit(u16),
    Step(Step),
    Quarry(u16),
    Sign(Sign),
    /// A reading of a sign, by its place in the sign's list.
    Reading(Sign, u8),
    /// Damage of a talon, beak, feather or foot.
    Damage,
    /// How well she answered; whether the words may stand alone.
    Grade(u8, bool),
    /// Words that make a judgement the summary.
    Summary,
    Wind(Wind),
    Sky(Sky),
    Cue(Cue),
}

macro_rules! cues {
    ($($name:ident),+ $(,)?) => {
        /// Classes of words that carry no entry but decide what the others mean.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub(crate) enum Cue { $($name),+ }
    };
}

cues! {
    He, His, She, Her, It, I, Be, Neg, Or, And, But, Slight, Plain, Strong, Ate, Gave, Given, Offered, Will,
    Refused, Left, Took, Missed, Chased, Fit, Put, On, TakeOff, Take, Off, Change, Old, Lost, Broke, Check,
    First, Start, Done, Plan, Want, NowWeigh, Than, Both, Other, Weigh, Approx, Exact, Up, Down, Delta,
    TakenBack, Filler, Yes, OtherBird, Person, OtherBeast, Hearsay, Forecast, Price, Code, DistanceOther,
    Longest, Flight, Flew, Times, Free, Line, Height, Fist, ToPerch, ToLure, Ago, Shed, MoultStart, MoultEnd,
    Today, Yesterday, DayBefore, LastNight, ThisMorning, Morning, Evening, Oclock, HalfPast, QuarterPast,
    QuarterTo, Past, ToHour, At, Noon, Midnight, Monday, Tuesday, Wednesday, Thursday, Friday, Saturday,
    Sunday, FutureDay, Grams, Kilos, Ounces, Pounds, Metres, Yards, Feet, Degrees, Fahrenheit, Minus, OutOf,
    Temperature, Ordinary, Vet, Visit, Todo, DeadTalk, FlyingTalk,
}
