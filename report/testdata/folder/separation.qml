<qgis version="3.22" styleCategories="Symbology"><pipe><rasterrenderer type="singlebandpseudocolor" band="1" alphaBand="-1" opacity="1" classificationMin="-0.16" classificationMax="0.16"><rastershader><colorrampshader colorRampType="INTERPOLATED" classificationMode="1" clip="0" minimumValue="-0.16" maximumValue="0.16"><item value="-0.16" color="#151b4b" alpha="255" label="-0.160 m"/>
<item value="-0.08000008" color="#232d74" alpha="255" label="beyond -0.080 m: twice the limit"/>
<item value="-0.08" color="#3d4ea8" alpha="255" label="-0.080 m: twice the limit"/>
<item value="-0.04000004" color="#6676c6" alpha="255" label="beyond -0.040 m: limit"/>
<item value="-0.04" color="#a9b4e0" alpha="255" label="-0.040 m: limit"/>
<item value="-0.02" color="#d3d8ee" alpha="255" label="-0.020 m"/>
<item value="0" color="#f6f3ec" alpha="255" label="0 m: the strips agree"/>
<item value="0.02" color="#f2dcbd" alpha="255" label="0.020 m"/>
<item value="0.04" color="#e7bd85" alpha="255" label="0.040 m: limit"/>
<item value="0.04000004" color="#cf8433" alpha="255" label="beyond 0.040 m: limit"/>
<item value="0.08" color="#a85c10" alpha="255" label="0.080 m: twice the limit"/>
<item value="0.08000008" color="#6e3700" alpha="255" label="beyond 0.080 m: twice the limit"/>
<item value="0.16" color="#432100" alpha="255" label="0.160 m"/></colorrampshader></rastershader></rasterrenderer></pipe></qgis>
