# Pools of studies by metafor: open datasets of metadat and metafor.
dir <- commandArgs(TRUE)[1]
close_to <- list(rel.tol = 1e-10)
one <- function(n) matrix(1, n, 1, dimnames = list(NULL, "mean"))

# Curtis & Wang 1998, Oecologia 113:299: log response ratios of plant mass under high CO2.
d <- escalc(measure = "ROM", m1i = m1i, sd1i = sd1i, n1i = n1i, m2i = m2i, sd2i = sd2i, n2i = n2i, data = dat.curtis1998)
d$row <- seq_len(nrow(d))
fit <- rma.mv(yi, vi, random = ~ 1 | row, data = d, control = close_to)
ci <- confint(fit, sigma2 = 1, control = list(tol = 1e-12))
write_case(dir, "curtis1998", "dat.curtis1998, log response ratios (Curtis & Wang 1998, Oecologia 113:299)", d$yi, one(nrow(d)), list(identity_of("study")),
  from_metafor(fit, fit$sigma2, diag(d$vi), list(diag(nrow(d))), intervals(ci)), diagonal_blocks(d$vi), c("metafor", "metadat"))

# Colditz et al. 1994, JAMA 271:698: log risk ratios of BCG vaccination; alone, and with latitude and year.
d <- escalc(measure = "RR", ai = tpos, bi = tneg, ci = cpos, di = cneg, data = dat.bcg)
d$row <- seq_len(nrow(d))
fit <- rma.mv(yi, vi, random = ~ 1 | row, data = d, control = close_to)
ci <- confint(fit, sigma2 = 1, control = list(tol = 1e-12))
write_case(dir, "colditz1994", "dat.bcg, log risk ratios (Colditz et al. 1994, JAMA 271:698)", d$yi, one(nrow(d)), list(identity_of("study")),
  from_metafor(fit, fit$sigma2, diag(d$vi), list(diag(nrow(d))), intervals(ci)), diagonal_blocks(d$vi), c("metafor", "metadat"))
for (method in c("REML", "ML")) {
  fit <- rma.mv(yi, vi, mods = ~ ablat + I(year - 1970), random = ~ 1 | row, data = d, method = method, control = close_to)
  ci <- confint(fit, sigma2 = 1, control = list(tol = 1e-12))
  write_case(dir, paste0("colditz1994-moderators-", tolower(method)), paste("dat.bcg with latitude and year,", method, "(Colditz et al. 1994, JAMA 271:698)"), d$yi, fit$X,
    list(identity_of("study")), from_metafor(fit, fit$sigma2, diag(d$vi), list(diag(nrow(d))), intervals(ci)), diagonal_blocks(d$vi), c("metafor", "metadat"), reml = method == "REML")
}

# Konstantopoulos 2011, Research Synthesis Methods 2:61: schools in districts, three levels.
d <- dat.konstantopoulos2011
d$row <- seq_len(nrow(d))
for (method in c("REML", "ML")) {
  fit <- rma.mv(yi, vi, random = ~ 1 | district/school, data = d, method = method, control = close_to)
  ci <- list(confint(fit, sigma2 = 1, control = list(tol = 1e-12)), confint(fit, sigma2 = 2, control = list(tol = 1e-12)))
  write_case(dir, paste0("konstantopoulos2011-", tolower(method)), paste("dat.konstantopoulos2011, three levels,", method, "(Konstantopoulos 2011, Res Synth Methods 2:61)"),
    d$yi, one(nrow(d)), list(grouping("district", d$district), identity_of("school")),
    from_metafor(fit, fit$sigma2, diag(d$vi), list(outer(d$district, d$district, "==") * 1, diag(nrow(d))), intervals(ci[[1]], ci[[2]])),
    diagonal_blocks(d$vi), c("metafor", "metadat"), reml = method == "REML")
}

# Berkey et al. 1998, Stat Med 17:2537: two outcomes a trial with a known covariance of both.
d <- dat.berkey1998
V <- as.matrix(bldiag(lapply(split(d[, c("v1i", "v2i")], d$trial), as.matrix)))
for (method in c("REML", "ML")) {
  fit <- rma.mv(yi, V, mods = ~ outcome - 1, random = ~ 1 | trial/outcome, data = d, method = method, control = close_to)
  write_case(dir, paste0("berkey1998-", tolower(method)), paste("dat.berkey1998, two outcomes,", method, "(Berkey et al. 1998, Stat Med 17:2537)"), d$yi, fit$X,
    list(grouping("trial", d$trial), identity_of("outcome")),
    from_metafor(fit, fit$sigma2, V, list(outer(d$trial, d$trial, "==") * 1, diag(nrow(d)))), study_blocks(V, d$trial), c("metafor", "metadat"), reml = method == "REML")
}
