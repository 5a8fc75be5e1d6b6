# Trials and other mixed models by lme4, with Kenward-Roger by lmerTest and pbkrtest; and unequal residuals by nlme.
dir <- commandArgs(TRUE)[1]
packages <- c("lme4", "lmerTest", "pbkrtest")

# Halekoh & Hojsgaard 2014, J Stat Softw 59(9): sugar beets, sowing dates within blocks, harvests between.
data(beets, package = "pbkrtest")
fit <- lmer(sugpct ~ block + sow + harvest + (1 | block:harvest), beets, control = tight())
write_case(dir, "beets", "beets of pbkrtest (Halekoh & Hojsgaard 2014, J Stat Softw 59(9))", beets$sugpct, model.matrix(fit),
  list(grouping("block:harvest", paste(beets$block, beets$harvest)), identity_of("residual")), from_lmer(fit, variance(fit, c("block:harvest", "Residual"))), packages = packages)

# Belenky et al. 2003, J Sleep Res 12:1: repeated readings, with a slope of its own for each subject.
fit <- lmer(Reaction ~ Days + (1 | Subject) + (0 + Days | Subject), sleepstudy, control = tight())
S <- outer(sleepstudy$Subject, levels(sleepstudy$Subject), "==") * 1
v <- as.data.frame(VarCorr(fit))$vcov
write_case(dir, "sleepstudy", "sleepstudy of lme4 (Belenky et al. 2003, J Sleep Res 12:1)", sleepstudy$Reaction, model.matrix(fit),
  list(grouping("subject", sleepstudy$Subject), columns("days", S * sleepstudy$Days), identity_of("residual")), from_lmer(fit, v), packages = packages)
# The same with some readings lost: unbalanced.
lost <- sleepstudy[-c(2, 3, 11, 27, 28, 29, 30, 64, 77, 78, 101, 140, 141, 142, 171), ]
fit <- lmer(Reaction ~ Days + (1 | Subject), lost, control = tight())
write_case(dir, "sleepstudy-unbalanced", "sleepstudy of lme4, fifteen rows left out (Belenky et al. 2003, J Sleep Res 12:1)", lost$Reaction, model.matrix(fit),
  list(grouping("subject", lost$Subject), identity_of("residual")), from_lmer(fit, variance(fit, c("Subject", "Residual"))), packages = packages)

# Davies & Goldsmith 1972, Statistical Methods in Research and Production: nested casks and batches; crossed plates and samples.
fit <- lmer(strength ~ 1 + (1 | batch) + (1 | sample), Pastes, control = tight())
write_case(dir, "pastes", "Pastes of lme4 (Davies & Goldsmith 1972)", Pastes$strength, model.matrix(fit),
  list(grouping("batch", Pastes$batch), grouping("sample", Pastes$sample), identity_of("residual")), from_lmer(fit, variance(fit, c("batch", "sample", "Residual"))), packages = packages)
fit <- lmer(diameter ~ 1 + (1 | plate) + (1 | sample), Penicillin, control = tight())
write_case(dir, "penicillin", "Penicillin of lme4 (Davies & Goldsmith 1972)", Penicillin$diameter, model.matrix(fit),
  list(grouping("plate", Penicillin$plate), grouping("sample", Penicillin$sample), identity_of("residual")), from_lmer(fit, variance(fit, c("plate", "sample", "Residual"))), packages = packages)

# Cochran & Cox 1957, Experimental Designs: a split plot, recipes on batches and temperatures within.
fit <- lmer(angle ~ recipe * temperature + (1 | recipe:replicate), cake, control = tight())
write_case(dir, "cake", "cake of lme4 (Cochran & Cox 1957)", cake$angle, model.matrix(fit),
  list(grouping("batch", paste(cake$recipe, cake$replicate)), identity_of("residual")), from_lmer(fit, variance(fit, c("recipe:replicate", "Residual"))), packages = packages)

# Pothoff & Roy 1964, Biometrika 51:313: a residual variance for each sex (generalised least squares), no random effect.
d <- as.data.frame(nlme::Orthodont)
fit <- gls(distance ~ Sex * I(age - 11), d, weights = varIdent(form = ~ 1 | Sex), method = "REML", control = glsControl(tolerance = 1e-12, msTol = 1e-14))
ratio <- coef(fit$modelStruct$varStruct, unconstrained = FALSE, allCoef = TRUE)
male <- (d$Sex == "Male") * 1
X <- model.matrix(distance ~ Sex * I(age - 11), d)
theta <- c(male = sigma(fit)^2 * ratio[["Male"]]^2, female = sigma(fit)^2 * ratio[["Female"]]^2)
K <- list(diag(male), diag(1 - male))
Z <- diag(nrow(d))
xx <- as.numeric(determinant(crossprod(X))$modulus)
write_case(dir, "orthodont", "Orthodont of nlme, gls (Pothoff & Roy 1964, Biometrika 51:313)", d$distance, X,
  list(columns("male", Z[, male == 1]), columns("female", Z[, male == 0])),
  list(theta = unname(theta), beta = unname(coef(fit)), se = unname(sqrt(diag(vcov(fit)))), loglik = unbox(as.numeric(logLik(fit)) + xx / 2),
    contrasts = kr_contrasts(kenward_roger(X, 0 * Z, K, theta, pool = FALSE), unname(coef(fit)))), packages = "nlme")
