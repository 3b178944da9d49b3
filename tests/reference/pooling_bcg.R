# Reference values for tests/stats/test_pooling.py: BCG trials (Colditz et al. 1994), pooled by
# metafor. Run: Rscript tests/reference/pooling_bcg.R
library(metafor)
bcg <- escalc(measure = "RR", ai = tpos, bi = tneg, ci = cpos, di = cneg, data = dat.bcg)
cat("R", as.character(getRversion()), "metafor", as.character(packageVersion("metafor")), "\n")
for (method in c("DL", "REML", "PM", "FE")) {
  fit <- rma(yi, vi, data = bcg, method = method)
  cat(method, "mean", fit$beta, "se", fit$se, "tau2", fit$tau2, "Q", fit$QE, "I2", fit$I2, "\n")
  if (method != "FE") {
    hk <- rma(yi, vi, data = bcg, method = method, test = "knha")
    p <- predict(hk)
    cat("  knha", hk$ci.lb, hk$ci.ub, "prediction", p$pi.lb, p$pi.ub, "\n")
  }
}
fit <- rma(yi, vi, data = bcg, method = "REML")
p <- predict(fit, transf = exp)
cat("normal prediction, ratio scale", p$pi.lb, p$pi.ub, "\n")
print(confint(fit))
