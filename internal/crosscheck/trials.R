# Trials: joint tests by pbkrtest, several comparisons at once by multcomp and mvtnorm. Each case is a season table and
# what R makes of it, for the Go test in trial.
suppressMessages({library(multcomp); library(mvtnorm)})
dir <- file.path(commandArgs(TRUE)[1], "trial")
dir.create(dir, showWarnings = FALSE)
versions <- lapply(setNames(nm = c("lme4", "lmerTest", "pbkrtest", "multcomp", "mvtnorm")), function(p) unbox(as.character(packageVersion(p))))
versions <- c(list(R = unbox(as.character(getRversion()))), versions)

# write_trial writes the rows (unit, block, season, practice, yield: a log) and the comparisons of a fit.
write_trial <- function(name, source, d, expect) {
  case <- list(name = unbox(name), source = unbox(source), versions = versions,
    rows = lapply(seq_len(nrow(d)), function(i) list(unit = unbox(as.character(d$unit[i])), block = unbox(as.character(d$block[i])),
      season = unbox(as.integer(as.character(d$season[i]))), practice = unbox(as.character(d$practice[i])), log_yield = unbox(d$yield[i]))), expect = expect)
  writeLines(toJSON(case, digits = NA, na = "null", null = "null"), file.path(dir, paste0(name, ".json")))
}

# single_step is glht with its finest integration; p of every comparison, named "a - b".
single_step <- function(g) {
  set.seed(1)
  s <- summary(g, test = adjusted("single-step", abseps = 5e-6, maxpts = 5e5))$test
  lapply(seq_along(s$coefficients), function(i) list(name = unbox(names(s$coefficients)[i]), value = unbox(unname(s$coefficients[i])),
    se = unbox(unname(s$sigma[i])), p_adjusted = unbox(unname(s$pvalues[i]))))
}

# One-way: Dobson 1983, and Bretz, Hothorn & Westfall 2010. Yields are the logs that Go is to find.
one_way <- function(name, source, yield, group) {
  d <- data.frame(unit = seq_along(yield), block = "", season = 2024, practice = group, yield = yield)
  fit <- lm(yield ~ practice, d)
  write_trial(name, source, d, list(dunnett = single_step(glht(fit, mcp(practice = "Dunnett"))), tukey = single_step(glht(fit, mcp(practice = "Tukey"))), df = unbox(df.residual(fit))))
}
one_way("plantgrowth", "PlantGrowth of R (Dobson 1983)", PlantGrowth$weight, PlantGrowth$group)
one_way("recovery", "recovery of multcomp (Bretz, Hothorn & Westfall 2010)", recovery$minutes, recovery$blanket)

# An unbalanced mixed trial: 24 units in 6 blocks, four practices, two seasons, five unit-seasons lost. Each comparison
# has its own degrees of freedom, which mvtnorm takes whole; so p is by mvtnorm at the two whole numbers beside, and Go's
# must lie between them; and the joint test of practice, season and their interaction by pbkrtest.
set.seed(20260314)
practices <- c("p0", "p1", "p2", "p3")
unit <- rep(1:24, 2)
block <- (unit - 1) %/% 4 + 1
practice <- factor(practices[unlist(lapply(1:6, function(b) sample(4)))][unit], levels = practices)
season <- factor(rep(c(2024, 2025), each = 24))
effect <- function(g, sd) rnorm(max(g), 0, sd)[g]
d <- data.frame(unit, block, season, practice, yield = 3 + c(0, 0.08, 0.2, 0.25)[practice] + 0.2 * (season == 2025) + effect(block, 0.1) + effect(unit, 0.12) + rnorm(48, 0, 0.1))
d <- d[-c(7, 13, 31, 32, 45), ]
control <- lmerControl(optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-12, xtol_rel = 1e-12, ftol_abs = 1e-14, ftol_rel = 1e-14, maxeval = 100000))
fit <- lmer(yield ~ practice + season + (1 | block) + (1 | unit), d, control = control)
V <- as.matrix(vcovAdj(fit))
comparisons <- function(L, maxpts = 5e5) {
  value <- as.numeric(L %*% fixef(fit))
  cov <- L %*% V %*% t(L)
  se <- sqrt(diag(cov))
  R <- cov2cor(cov)
  lapply(seq_len(nrow(L)), function(i) {
    df <- contest1D(fit, L[i, ], ddf = "Kenward-Roger")[["df"]]
    if (abs(df - round(df)) < 1e-6) df <- round(df) # then both are p itself
    t <- abs(value[i] / se[i])
    at <- function(df) { set.seed(1); 1 - pmvt(rep(-t, nrow(L)), rep(t, nrow(L)), corr = R, df = df, algorithm = GenzBretz(maxpts = maxpts, abseps = 5e-6)) }
    list(name = unbox(rownames(L)[i]), value = unbox(value[i]), se = unbox(se[i]), df = unbox(df), p_floor = unbox(as.numeric(at(floor(df)))), p_ceiling = unbox(as.numeric(at(ceiling(df)))))
  })
}
K <- contrMat(table(d$practice), "Dunnett"); D <- cbind(0, K[, -1], 0); rownames(D) <- rownames(K)
K <- contrMat(table(d$practice), "Tukey"); T <- cbind(0, K[, -1], 0); rownames(T) <- rownames(K)
joint <- function(large, small) {
  s <- KRmodcomp(large, small)$test["Ftest", ]
  list(f = unbox(s$stat), df = unbox(s$ndf), residual = unbox(s$ddf), p = unbox(s$p.value))
}
inter <- lmer(yield ~ practice * season + (1 | block) + (1 | unit), d, control = control)
# Each practice against p0 in each season, with the whole Kenward-Roger covariance: columns are the mean, p1 to p3, the
# season, and p1 to p3 in it.
L <- rbind(cbind(0, diag(3), 0, matrix(0, 3, 3)), cbind(0, diag(3), 0, diag(3)))
by_season <- list(value = as.numeric(L %*% fixef(inter)), v = unname(L %*% as.matrix(vcovAdj(inter)) %*% t(L)),
  df = apply(L, 1, function(l) contest1D(inter, l, ddf = "Kenward-Roger")[["df"]]))
write_trial("mixed-unbalanced", "invented: 24 units in 6 blocks over two seasons, five unit-seasons lost", d,
  list(by_season = by_season, dunnett = comparisons(D), tukey = comparisons(T), interaction = joint(inter, fit), practice = joint(fit, lmer(yield ~ season + (1 | block) + (1 | unit), d, control = control))))

# An open trial with blocks and repeated units: ten barley varieties at six farms over two years (Immer et al. 1934; barley of
# lattice), farms as blocks and each farm's variety as the unit. Only comparisons with one variety: all 45 pairs would take an hour.
b <- lattice::barley
d <- data.frame(unit = interaction(b$site, b$variety), block = b$site, season = factor(as.character(b$year)), practice = factor(paste0("v", as.integer(factor(as.character(b$variety))) + 9)), yield = log(b$yield))
fit <- lmer(yield ~ practice + season + (1 | block) + (1 | unit), d, control = control)
V <- as.matrix(vcovAdj(fit))
K <- contrMat(table(d$practice), "Dunnett"); D <- cbind(0, K[, -1], 0); rownames(D) <- rownames(K)
inter <- lmer(yield ~ practice * season + (1 | block) + (1 | unit), d, control = control)
write_trial("barley", "barley of lattice (Immer, Hayes & Powers 1934)", d,
  list(dunnett = comparisons(D, 5e6), tukey = list(), interaction = joint(inter, fit), practice = joint(fit, lmer(yield ~ season + (1 | block) + (1 | unit), d, control = control))))

# Power and the noncentral t of R itself.
power <- lapply(list(c(64, 0.5, 1), c(17, 0.3, 0.3), c(6, 0.27, 0.2), c(3, 0.4, 0.15)), function(x)
  list(n = unbox(x[1]), delta = unbox(x[2]), sd = unbox(x[3]), power = unbox(power.t.test(n = x[1], delta = x[2], sd = x[3], strict = TRUE)$power)))
needed <- lapply(list(c(0.5, 1), c(0.27, 0.2), c(0.3, 0.3)), function(x) list(delta = unbox(x[1]), sd = unbox(x[2]), n = unbox(power.t.test(delta = x[1], sd = x[2], power = 0.8, strict = TRUE, tol = 1e-12)$n)))
nct <- lapply(list(c(2, 10, 1), c(-1, 5.5, 0.5), c(2.5, 3.3, 4), c(0.5, 200, 2.2), c(2.0, 1, 1.5)), function(x)
  list(t = unbox(x[1]), df = unbox(x[2]), ncp = unbox(x[3]), p = unbox(pt(x[1], x[2], x[3]))))
writeLines(toJSON(list(versions = versions, power = power, needed = needed, noncentral = nct), digits = NA), file.path(dir, "power.json"))
