//! What cycles and roads are held to; one program, since each is linked anew.

mod any_input;
mod gpx_tracks;
mod logs;
mod made_tracks;
mod odd_tables;
mod odd_tracks;
mod one_road;
mod own_schedules;
mod planned;
mod processor;
mod recordings;
mod speed_limits;
mod us_schedules;
mod wgs84;
mod wltc_regulation;
