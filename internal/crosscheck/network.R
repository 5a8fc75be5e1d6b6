# A network with ten studies of three arms or more: Baker et al. 2009, Pharmacotherapy 29:891 (dat.baker2009),
# log odds ratios against each study's first arm, whose variance they share, and heterogeneity that correlates 1/2.
dir <- commandArgs(TRUE)[1]
d <- dat.baker2009
d$study <- paste(d$study, d$id)
zero <- d$study %in% d$study[d$exac == 0 | d$exac == d$total]
d$e <- d$exac + 0.5 * zero # half a case in every arm of a study with an empty one
d$n <- d$total + 1 * zero
d$lo <- log(d$e / (d$n - d$e))
d$lv <- 1 / d$e + 1 / (d$n - d$e)
d$treatment <- relevel(factor(d$treatment), "Placebo")
rows <- do.call(rbind, lapply(unname(split(d, factor(d$study, levels = unique(d$study)))), function(s) {
  s <- s[order(s$treatment != "Placebo"), ] # placebo first where there is one
  r <- s[1, ]
  data.frame(study = r$study, ref = r$treatment, arm = s$treatment[-1], yi = s$lo[-1] - r$lo, vi = s$lv[-1] + r$lv, shared = r$lv)
}))
V <- outer(rows$study, rows$study, "==") * rows$shared
diag(V) <- rows$vi
treatments <- levels(d$treatment)[-1]
X <- sapply(treatments, function(t) (rows$arm == t) - (rows$ref == t))
rows$contrast <- paste(rows$arm, rows$ref)
fit <- rma.mv(yi, V, mods = X, intercept = FALSE, random = ~ contrast | study, rho = 1/2, data = rows, control = list(rel.tol = 1e-10))
ci <- confint(fit, tau2 = 1, control = list(tol = 1e-12))
# In arms: heterogeneity tau2/2 in each arm of a study, seen through the contrasts: half a column a row, half a column a study.
Z <- cbind(diag(nrow(rows)), outer(rows$study, unique(rows$study), "==")) * sqrt(1/2)
write_case(dir, "baker2009", "dat.baker2009, log odds ratios, network (Baker et al. 2009, Pharmacotherapy 29:891)", rows$yi, X, list(columns("study", Z)),
  from_metafor(fit, fit$tau2, V, list(Z %*% t(Z)), intervals(ci)), study_blocks(V, rows$study), c("metafor", "metadat"))
