//! What kits ask: the kits, what they hold, and what moved.

use crate::store::{Result, Tx};
use crate::trade::kit::{Kit, Stock, StockMove};
use crate::trade::roster::ProgramId;
use crate::trade::time::Moment;

impl Tx {
    /// Every kit.
    pub async fn kits(&mut self, program: &ProgramId) -> Result<Vec<Kit>> {
        self.select("WHERE program = $1 ORDER BY id", args![program]).await
    }

    /// What every kit holds.
    pub async fn stock(&mut self, program: &ProgramId) -> Result<Vec<Stock>> {
        self.select("WHERE program = $1 ORDER BY kit, item", args![program]).await
    }

    /// What moved since a moment, the oldest first.
    pub async fn stock_moves_since(&mut self, program: &ProgramId, since: Moment) -> Result<Vec<StockMove>> {
        self.select("WHERE program = $1 AND at >= $2 ORDER BY at, id", args![program, since.millis()]).await
    }

    /// Helmets in service by team and model: "team<tab>model<tab>how many".
    pub async fn worn_by_model(&mut self, program: &ProgramId) -> Result<Vec<String>> {
        const SQL: &str = "SELECT athlete.team || '\t' || helmet.model || '\t' || COUNT(*) FROM helmet \
                           JOIN athlete ON athlete.program = helmet.program AND athlete.id = helmet.athlete \
                           WHERE helmet.program = $1 AND athlete.active \
                           GROUP BY athlete.team, helmet.model ORDER BY athlete.team, helmet.model";
        self.texts(SQL, args![program]).await
    }
}
